import { describe, expect, test } from 'vitest';
import { singleUnitGridLoss } from '../../../ingest/analysis/single-unit-grid-loss.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

/** Grid voltage that moves, as a measured one does. */
const volts = (t: number): number => 230 + ((t / 30_000) % 7) / 10;
const GRID = { mode: 'grid', output_voltage_v: 230, output_power_w: 900 };
const ALONE = { mode: 'backup', grid_voltage_v: 0, output_voltage_v: 230, output_power_w: 900 };

type Span = readonly [string, string, Partial<Line>];

/** A unit from 08:00 to 11:00 with other values in the spans, sampled every 30 s from its own second on. */
function unit(id: string, lateS: number, ...spans: readonly Span[]): Line[] {
  return lines('08:00', '11:00', 30, (t0) => {
    const t = t0 + lateS * 1000;
    const over = spans.find(([from, to]) => t >= at(from) && t < at(to))?.[2] ?? {};
    return { unit: id, ...GRID, grid_voltage_v: volts(t), ...over };
  }).map((line) => ({ ...line, t: line.t + lateS * 1000 }));
}

const SITE = siteOf({ intervalS: 30 });
const PHASES = siteOf({
  intervalS: 30,
  units: [{ id: 'u1' }, { id: 'u2', phase: 'L2' }, { id: 'u3', phase: 'L3' }],
});
const FOUR = siteOf({
  intervalS: 30,
  units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3', phase: 'L2' }, { id: 'u4', phase: 'L2' }],
});

describe('singleUnitGridLoss', () => {
  test('a unit alone without the grid has a tripped input breaker, until it is back', () => {
    const log = [...unit('u1', 0), ...unit('u2', 11, ['09:00', '10:20', ALONE])];
    check(singleUnitGridLoss, SITE, log, [
      'single_unit_grid_loss u2 09:00:11 seen 09:10:11 to 10:20:11 soon input_breaker',
    ]);
  });

  test('it is the voltage at its own input that tells, whatever its mode says', () => {
    const log = [...unit('u1', 0), ...unit('u2', 11, ['09:00', '10:20', { grid_voltage_v: 2, output_power_w: 0 }])];
    check(singleUnitGridLoss, SITE, log, [
      'single_unit_grid_loss u2 09:00:11 seen 09:10:11 to 10:20:11 soon input_breaker',
    ]);
  });

  test('of three units on three phases it may be the phase of the supply', () => {
    const log = [...unit('u1', 0), ...unit('u2', 7, ['09:00', '12:00', ALONE]), ...unit('u3', 13)];
    check(singleUnitGridLoss, PHASES, log, [
      'single_unit_grid_loss u2 09:00:07 seen 09:10:07 to now soon supply_phase',
    ]);
  });

  test('a transformer that still reads power on that phase speaks for the breaker', () => {
    const lost = { ...ALONE, ct_power_w: 700 };
    const log = [...unit('u1', 0), ...unit('u2', 7, ['09:00', '12:00', lost]), ...unit('u3', 13)];
    check(singleUnitGridLoss, PHASES, log, [
      'single_unit_grid_loss u2 09:00:07 seen 09:10:07 to now soon input_breaker',
    ]);
  });

  test('all units of a phase without it are one condition, of the supply', () => {
    const span: Span = ['09:00', '10:00', ALONE];
    const log = [...unit('u1', 0), ...unit('u2', 7), ...unit('u3', 11, span), ...unit('u4', 17, span)];
    const [finding, ...others] = findingsOf(singleUnitGridLoss, FOUR, log);
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: null, candidates: ['u3', 'u4'] });
    expect(finding!.causes[0]).toEqual({ cause: 'supply_phase', weight: 0.95 });
    expect(finding!.evidence).toMatchObject({ phases_without_grid: ['L2'], kept_by: ['u1', 'u2'] });
  });

  test.each<[string, Line[]]>([
    [
      'a grid loss with staggered transfer',
      [...unit('u1', 0, ['09:00', '09:40', ALONE]), ...unit('u2', 25, ['09:01', '09:40', ALONE])],
    ],
    [
      'a return that takes one unit a reconnect time longer',
      [
        ...unit('u1', 0, ['09:00', '09:40', ALONE]),
        ...unit('u2', 25, ['09:00', '09:40', ALONE], ['09:40', '09:45', { ...ALONE, grid_voltage_v: 231 }]),
      ],
    ],
    [
      'a clock that is eight minutes late',
      [...unit('u1', 0, ['09:00', '09:40', ALONE]), ...unit('u2', 3, ['09:08', '09:48', ALONE])],
    ],
    [
      'a restart, which measures no grid for a while',
      [
        ...unit('u1', 0),
        ...unit(
          'u2',
          3,
          ['09:00', '09:25', { mode: 'off', grid_voltage_v: 0 }],
          ['09:25', '09:40', { mode: 'starting', grid_voltage_v: 0 }],
        ),
      ],
    ],
    [
      'a sag that all ride through',
      [
        ...unit('u1', 0, ['09:00', '09:30', { grid_voltage_v: 170 }]),
        ...unit('u2', 3, ['09:00', '09:30', { grid_voltage_v: 171 }]),
      ],
    ],
    [
      'a unit that says nothing',
      [...unit('u1', 0), ...unit('u2', 3).filter(({ t }) => t < at('09:00') || t > at('10:30'))],
    ],
    ['a loss of less than ten minutes', [...unit('u1', 0), ...unit('u2', 3, ['09:00', '09:08', ALONE])]],
    [
      'a voltage that reads nothing while power flows in',
      [...unit('u1', 0), ...unit('u2', 3, ['09:00', '10:30', { grid_voltage_v: 0, grid_power_w: 950 }])],
    ],
    [
      'a grid loss in which the other unit repeats an old reading',
      [...unit('u1', 0, ['09:00', '10:30', ALONE]), ...unit('u2', 3, ['08:50', '10:30', { grid_voltage_v: 230.4 }])],
    ],
  ])('%s is none', (_, log) => {
    check(singleUnitGridLoss, SITE, log, []);
  });

  test('a grid loss of all in between does not end it', () => {
    const log = [...unit('u1', 0, ['09:30', '09:50', ALONE]), ...unit('u2', 11, ['09:00', '10:20', ALONE])];
    check(singleUnitGridLoss, SITE, log, [
      'single_unit_grid_loss u2 09:00:11 seen 09:10:11 to 10:20:11 soon input_breaker',
    ]);
  });

  test('a unit that does not come back after a grid loss is alone from the return of the others on', () => {
    const log = [...unit('u1', 0, ['09:00', '09:30', ALONE]), ...unit('u2', 11, ['09:00', '10:40', ALONE])];
    check(singleUnitGridLoss, SITE, log, [
      'single_unit_grid_loss u2 09:30:00 seen 09:40:11 to 10:40:11 soon input_breaker',
    ]);
  });

  test('cut at any time the log says what was said live', () => {
    const log = [...unit('u1', 0, ['09:10', '09:20', ALONE]), ...unit('u2', 11, ['08:50', '09:30', ALONE])];
    checkEveryCut(
      singleUnitGridLoss,
      SITE,
      log.filter(({ t }) => t >= at('08:45') && t < at('09:35')),
    );
  }, 60_000);
});
