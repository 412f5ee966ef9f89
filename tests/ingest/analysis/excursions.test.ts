import { describe, expect, test } from 'vitest';
import { excursions } from '../../../ingest/analysis/excursions.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

const GRID = {
  mode: 'grid',
  grid_voltage_v: 230,
  output_voltage_v: 230,
  output_frequency_hz: 50,
  output_power_w: 1000,
};
const BACKUP = {
  mode: 'backup',
  grid_voltage_v: 0,
  output_voltage_v: 229,
  output_frequency_hz: 50,
  output_power_w: 1000,
};
const ONE = siteOf({ units: [{ id: 'u1' }] });

/** One unit on its own from 09:10 to 09:50, with other values in the spans. */
function island(...spans: readonly (readonly [string, string, Partial<Line>])[]): Line[] {
  return lines('09:00', '10:00', 10, (t) => {
    if (t < at('09:10') || t >= at('09:50')) return { unit: 'u1', ...GRID };
    const over = spans.find(([from, to]) => t >= at(from) && t < at(to))?.[2] ?? {};
    return { unit: 'u1', ...BACKUP, ...over };
  });
}

describe('excursions', () => {
  test.each([
    ['on its own within the band, nothing', island(), []],
    [
      'an overload sags the frequency',
      island(['09:20', '09:22', { output_frequency_hz: 48.5, output_power_w: 8800, load_pct: 110 }]),
      ['frequency_excursion site 09:20:00 seen 09:20:00 to 09:22:00 soon overload'],
    ],
    [
      'a full battery and PV raise it',
      island(['09:20', '09:22', { output_frequency_hz: 51.4, output_power_w: -900, battery_soc_pct: 99 }]),
      ['frequency_excursion site 09:20:00 seen 09:20:00 to 09:22:00 soon surplus_generation'],
    ],
    [
      'with nothing to explain it, unexplained',
      island(['09:20', '09:22', { output_frequency_hz: 48.5 }]),
      ['frequency_excursion site 09:20:00 seen 09:20:00 to 09:22:00 soon unexplained'],
    ],
    [
      'one that comes back in the same grid loss is the same condition',
      island(['09:20', '09:22', { output_frequency_hz: 48.5 }], ['09:40', '09:41', { output_frequency_hz: 48.7 }]),
      ['frequency_excursion site 09:20:00 seen 09:20:00 to 09:41:00 soon unexplained'],
    ],
    [
      'over both edges at different times, two conditions',
      island(['09:20', '09:22', { output_frequency_hz: 48.5 }], ['09:40', '09:41', { output_frequency_hz: 51.3 }]),
      [
        'frequency_excursion site 09:20:00 seen 09:20:00 to 09:22:00 soon unexplained',
        'frequency_excursion site 09:40:00 seen 09:40:00 to 09:41:00 soon unexplained',
      ],
    ],
    [
      'one that lasts to the end of the grid loss ends with it',
      island(['09:40', '09:50', { output_voltage_v: 200 }]),
      ['voltage_excursion site 09:40:00 seen 09:40:00 to 09:50:00 soon'],
    ],
    ['on the very edge is inside', island(['09:20', '09:22', { output_frequency_hz: 49, output_voltage_v: 253 }]), []],
    [
      'lost output is no excursion',
      island(['09:20', '09:22', { mode: 'fault', output_frequency_hz: 0, output_voltage_v: 3 }]),
      [],
    ],
    [
      'a value that is absent is no excursion',
      island(['09:20', '09:22', { output_frequency_hz: null, output_voltage_v: null }]),
      [],
    ],
  ])('%s', (_, log, expected) => {
    check(excursions, ONE, log, expected);
  });

  test('on the grid the frequency is the grid’s, and no excursion', () => {
    const log = lines('09:00', '10:00', 10, () => ({
      unit: 'u1',
      ...GRID,
      output_frequency_hz: 48,
      output_voltage_v: 190,
    }));
    check(excursions, ONE, log, []);
  });

  test('a unit alone off the grid makes no excursion of the site', () => {
    const log = [
      ...island(['09:20', '09:30', { output_frequency_hz: 47 }]),
      ...lines('09:00', '10:00', 10, () => ({ unit: 'u2', ...GRID })),
    ];
    check(excursions, siteOf(), log, []);
  });

  test('powers that swing against each other point at hunting', () => {
    const swing = (id: string, sign: number): Line[] =>
      lines('09:00', '10:00', 10, (t) => {
        if (t < at('09:10') || t >= at('09:50')) return { unit: id, ...GRID };
        const phase = Math.round((t - at('09:10')) / 10_000) % 2 === 0 ? 1 : -1;
        const isHunting = t >= at('09:20') && t < at('09:25');
        return {
          unit: id,
          ...BACKUP,
          output_power_w: 2000 + (isHunting ? sign * phase * 1500 : 0),
          output_frequency_hz: isHunting ? 50 + 1.2 * phase : 50,
        };
      });
    const [finding, ...others] = findingsOf(excursions, siteOf(), [...swing('u1', 1), ...swing('u2', -1)]);
    expect(others).toEqual([]);
    expect(finding!.causes[0]!.cause).toBe('hunting');
    expect(finding!.causes[0]!.weight).toBeGreaterThan(0.8);
  });

  test('the finding carries the extreme, the edge and the time outside', () => {
    const log = island(
      ['09:20', '09:20:30', { output_frequency_hz: 48.9 }],
      ['09:20:30', '09:21', { output_frequency_hz: 48.2, output_power_w: 9000 }],
    );
    const [finding] = findingsOf(excursions, ONE, log);
    expect(finding).toMatchObject({ value: 48.2, baseline: 50, limit: 49, measure: 'output frequency in backup' });
    expect(finding!.evidence).toMatchObject({ outside_s: 60, total_power_w: 9000, rated_power_w: 8000 });
    expect(finding!.causes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 9);
  });

  test('a unit of a split phase that reports a leg is judged by the leg', () => {
    const log = lines('09:00', '10:00', 10, (t) => {
      const isAway = t >= at('09:10') && t < at('09:50');
      const legs = { output_voltage_l1_v: 120, output_voltage_l2_v: 119, grid_voltage_v: isAway ? 0 : 120 };
      return { unit: 'u1', mode: isAway ? 'backup' : 'grid', ...legs };
    });
    check(excursions, siteOf({ units: [{ id: 'u1', phase: 'split' }], nominalV: 240 }), log, []);
  });

  test('cut at any time the log says what was said live, across midnight too', () => {
    const log = ['u1', 'u2'].flatMap((id, k) =>
      lines('23:30', '+1 00:30', 30, (t) => {
        const shifted = t + 7000 * k;
        const isAway = shifted >= at('23:40') && shifted < at('+1 00:20');
        const isOut = (shifted >= at('23:50') && shifted < at('23:52')) || shifted >= at('+1 00:10');
        const values = isAway
          ? { ...BACKUP, output_frequency_hz: isOut ? 48 : 50, output_voltage_v: isOut ? 260 : 230 }
          : GRID;
        return { unit: id, ...values };
      }).map((line) => ({ ...line, t: line.t + 7000 * k })),
    );
    check(excursions, siteOf({ intervalS: 30 }), log, [
      'frequency_excursion site 23:50:00 seen 23:50:00 to +1 00:20:07 soon unexplained',
      'voltage_excursion site 23:50:00 seen 23:50:00 to +1 00:20:07 soon',
    ]);
    checkEveryCut(excursions, siteOf({ intervalS: 30 }), log);
  }, 30_000);

  test('says how fast it moved and over what window, when it was back, and which published limits it kept', () => {
    const log = island(
      ['09:20', '09:21', { output_frequency_hz: 46 }],
      ['09:21', '09:21:30', { output_frequency_hz: 48 }],
    );
    const [finding] = findingsOf(excursions, ONE, log);
    expect(finding!.evidence).toMatchObject({
      rate_of_change_hz_per_s: -0.4,
      rate_window_s: 10,
      settling_s: 90,
      deviation_pct: -8,
      within_en_50160_always: true,
      iso_8528_5_transient_class: 'G2',
    });
  });

  test('a load that only the odd unit has been read under is an overload all the same', () => {
    const log = [
      ...island(['09:20', '09:20:10', { output_frequency_hz: 48.2, output_power_w: 8900 }]),
      ...lines('09:00', '10:00', 10, (t) => (t < at('09:10') || t >= at('09:50') ? GRID : BACKUP)).map((line) => ({
        ...line,
        unit: 'u2',
        t: line.t + 5000,
      })),
    ];
    expect(findingsOf(excursions, siteOf(), log)[0]!.causes[0]!.cause).toBe('overload');
  });

  test('PV that its own inverter holds back at a full battery is a surplus, though nothing measures it', () => {
    const site = siteOf({ units: [{ id: 'u1' }], more: { ac_coupled_pv: true, island_frequency_band_hz: [49, 51] } });
    const log = island(['09:20', '09:22', { output_frequency_hz: 51.6, output_power_w: 40, battery_soc_pct: 98 }]);
    expect(findingsOf(excursions, site, log)[0]!.causes[0]!.cause).toBe('surplus_generation');
    const within = siteOf({ units: [{ id: 'u1' }], more: { ac_coupled_pv: true, island_frequency_band_hz: [49, 52] } });
    check(excursions, within, log, []);
  });

  test('a frequency that rises with nothing to raise it stays unexplained', () => {
    const log = island(['09:20', '09:22', { output_frequency_hz: 51.6, battery_soc_pct: 60 }]);
    expect(findingsOf(excursions, ONE, log)[0]!.causes).toEqual([{ cause: 'unexplained', weight: 1 }]);
  });
});
