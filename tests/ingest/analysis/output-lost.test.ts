import { describe, expect, test } from 'vitest';
import { outputLost } from '../../../ingest/analysis/output-lost.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

const GRID = {
  mode: 'grid',
  grid_voltage_v: 230,
  output_voltage_v: 230,
  output_power_w: 1000,
  heatsink_temperature_c: 40,
};
const BACKUP = { ...GRID, mode: 'backup', grid_voltage_v: 0 };
const LOST = { mode: 'fault', grid_voltage_v: 0, output_voltage_v: 0, output_power_w: 0 };

/** On its own from 09:10 to 09:50, without output in the span. */
function unit(id: string, span: readonly [string, string] | null, lost: Partial<Line> = LOST, lateS = 0): Line[] {
  return lines('09:00', '10:00', 10, (t0) => {
    const t = t0 + lateS * 1000;
    if (t < at('09:10') || t >= at('09:50')) return { unit: id, ...GRID };
    return { unit: id, ...(span !== null && t >= at(span[0]) && t < at(span[1]) ? lost : BACKUP) };
  }).map((line) => ({ ...line, t: line.t + lateS * 1000 }));
}

describe('outputLost', () => {
  test('is raised when every unit of a phase is without output, and ends when one is live again', () => {
    const log = [...unit('u1', ['09:20', '09:30']), ...unit('u2', ['09:20', '09:35'], LOST, 3)];
    check(outputLost, siteOf(), log, ['output_lost site 09:20:03 seen 09:20:03 to 09:30:00 urgent']);
  });

  test('is not raised while another unit of the phase carries the load', () => {
    check(outputLost, siteOf(), [...unit('u1', ['09:20', '09:30']), ...unit('u2', null)], []);
  });

  test('is raised for a phase of its own', () => {
    const site = siteOf({ units: [{ id: 'u1' }, { id: 'u2', phase: 'L2' }] });
    const log = [...unit('u1', null), ...unit('u2', ['09:20', '09:30'])];
    check(outputLost, site, log, ['output_lost site 09:20:00 seen 09:20:00 to 09:30:00 urgent']);
  });

  test('a unit that is silent may carry the load: nothing is said', () => {
    const silent = unit('u2', null).filter(({ t }) => t < at('09:15'));
    check(outputLost, siteOf(), [...unit('u1', ['09:20', '09:30']), ...silent], []);
  });

  test('a unit off in a grid loss has no output even where it sends no voltage', () => {
    const site = siteOf({ units: [{ id: 'u1' }] });
    const log = unit('u1', ['09:20', '09:30'], { mode: 'off', grid_voltage_v: 0 });
    check(outputLost, site, log, ['output_lost site 09:20:00 seen 09:20:00 to 09:30:00 urgent']);
  });

  test('a unit off that sees the grid and sends no voltage may pass the grid through: nothing is said', () => {
    const log = lines('09:00', '10:00', 10, () => ({ unit: 'u1', mode: 'off', grid_voltage_v: 230 }));
    check(outputLost, siteOf({ units: [{ id: 'u1' }] }), log, []);
  });

  test('a unit that reads no voltage but carries power on the grid is misreading', () => {
    const log = lines('09:00', '10:00', 10, () => ({ unit: 'u1', ...GRID, output_voltage_v: 0 }));
    check(outputLost, siteOf({ units: [{ id: 'u1' }] }), log, []);
  });

  test('a telemetry gap is no lost output', () => {
    const log = unit('u1', null).filter(({ t }) => t < at('09:20') || t > at('09:40'));
    check(outputLost, siteOf({ units: [{ id: 'u1' }] }), log, []);
  });

  test('carries charge, load, temperature and modes as evidence', () => {
    const soc = lines('09:00', '10:00', 60, () => ({ bank: 'bank', bank_soc_pct: 7 }));
    const [finding] = findingsOf(outputLost, siteOf({ units: [{ id: 'u1' }] }), [
      ...unit('u1', ['09:20', '09:30']),
      ...soc,
    ]);
    expect(finding).toMatchObject({ value: 0, baseline: 230, limit: 23 });
    expect(finding!.evidence).toEqual({
      reason: 'charge',
      reasons_in_question: ['charge', 'fault'],
      phases: ['L1'],
      during_grid_loss: true,
      soc_pct: 7,
      low_soc_cutoff_pct: null,
      reserve_soc_pct: 20,
      dc_voltage_v: null,
      load_before_w: 1000,
      rated_power_w: 8000,
      load_over_rating_max: 0.13,
      heatsink_temperature_max_c: 40,
      modes: ['u1 fault'],
      fault_codes: [],
    });
  });

  test('cut at any time the log says what was said live', () => {
    const log = [...unit('u1', ['09:20', '09:30']), ...unit('u2', ['09:20', '09:35'], LOST, 3)];
    checkEveryCut(
      outputLost,
      siteOf(),
      log.filter(({ t }) => t >= at('09:15') && t < at('09:37')),
    );
  }, 30_000);

  const ONE = siteOf({ units: [{ id: 'u1' }] });
  const OVER = { ...BACKUP, output_power_w: 9100 };
  /** One unit; before the loss at 09:20 other values, and lines of their own. */
  const leadingTo = (values: Partial<Line>, more: readonly Line[] = [], lost: Partial<Line> = LOST): Line[] => [
    ...unit('u1', ['09:20', '09:30'], lost).map((line) =>
      line.t >= at('09:15') && line.t < at('09:20') ? { ...line, ...values } : line,
    ),
    ...more,
  ];
  const charge = (pct: number): Line[] => lines('09:00', '10:00', 60, () => ({ bank: 'bank', bank_soc_pct: pct }));

  test.each<[string, string, Line[]]>([
    [
      'a charge at the cutoff that the units are set to',
      'charge',
      [...leadingTo({}, charge(31)), { t: at('09:00'), unit: 'u1', settings: { low_soc_cutoff_pct: 30 } }],
    ],
    [
      'a battery voltage that has broken down',
      'charge',
      leadingTo({ dc_voltage_v: 44 }, [...lines('09:00', '10:00', 60, () => ({ pack: 'p1', soc_pct: 55 }))]),
    ],
    ['a load over the rating', 'overload', leadingTo(OVER, charge(80))],
    [
      'heat',
      'temperature',
      leadingTo({ heatsink_temperature_c: 84 }, charge(80), { ...LOST, heatsink_temperature_c: 84 }),
    ],
    [
      'an alarm of the equipment',
      'overload',
      leadingTo({}, [...charge(80), { t: at('09:20:04'), unit: 'u1', alarm: 'output overload', state: 'raised' }]),
    ],
    ['a fault code alone', 'fault', leadingTo({}, charge(80), { ...LOST, fault_code: 31 })],
    ['nothing that was read', 'unknown', leadingTo({}, charge(80), { ...LOST, mode: 'off' })],
  ])('names its reason: %s is %s', (_, reason, log) => {
    const site = siteOf({ units: [{ id: 'u1' }], packs: ['p1'] });
    const [finding] = findingsOf(outputLost, site, log);
    expect(finding!.evidence.reason).toBe(reason);
  });

  test('keeps the maker’s own numbers that come in about the loss', () => {
    const [finding] = findingsOf(outputLost, ONE, leadingTo({}, [], { ...LOST, fault_code: 31 }));
    expect(finding!.evidence.fault_codes).toEqual(['u1 31']);
  });
});
