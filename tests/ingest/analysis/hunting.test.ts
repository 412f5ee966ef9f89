import { describe, expect, test } from 'vitest';
import { excursions } from '../../../ingest/analysis/excursions.ts';
import { hunting } from '../../../ingest/analysis/hunting.ts';
import { oneCondition } from '../../../ingest/analysis/one-condition.ts';
import { at, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

interface Story {
  readonly everyS?: number;
  /** Amplitude of the frequency, Hz, and of each unit's power, W; period in s. */
  readonly swing?: {
    readonly from: string;
    readonly to: string;
    readonly hz: number;
    readonly w: number;
    readonly periodS: number;
  };
  readonly loadW?: (t: number) => number;
  /** Hz per W of load. */
  readonly droop?: number;
  readonly lateS?: number;
}

/** Two units on their own from 09:00 to 10:30. */
function log({ everyS = 30, swing, loadW = () => 4000, droop = 0, lateS = 7 }: Story): Line[] {
  return [1, -1].flatMap((sign, k) =>
    lines('08:50', '10:40', everyS, (t0) => {
      const t = t0 + 1000 * lateS * k;
      const isAway = t >= at('09:00') && t < at('10:30');
      const isSwinging = swing !== undefined && t >= at(swing.from) && t < at(swing.to);
      const wave = isSwinging ? Math.sin((2 * Math.PI * t) / (1000 * swing.periodS)) : 0;
      const hz = 50 - droop * loadW(t) + wave * (swing?.hz ?? 0) + (((t / 1000) * 13) % 7) * 0.002;
      return {
        unit: `u${k + 1}`,
        mode: isAway ? 'backup' : 'grid',
        grid_voltage_v: isAway ? 0 : 230,
        output_voltage_v: 230,
        output_frequency_hz: Math.round((isAway ? hz : 50) * 100) / 100,
        output_power_w: loadW(t) / 2 + sign * wave * (swing?.w ?? 0),
      };
    }).map((line) => ({ ...line, t: line.t + 1000 * lateS * k })),
  );
}

const site = (intervalS: number) => siteOf({ intervalS });
/** Thermostats and a kettle: on and off within minutes. */
const busy = (t: number): number => 1500 + 2500 * (Math.floor(t / 170_000) % 2) + 1200 * (Math.floor(t / 410_000) % 2);

describe('hunting', () => {
  test.each<[number, number]>([
    [10, 27],
    [10, 13.7],
    [30, 21.3],
    [30, 47],
    [60, 13.7],
    [60, 37],
  ])('read every %i s, a swing of %f s shows as turns, whatever period it folds to', (everyS, periodS) => {
    const swing = { from: '09:20', to: '10:20', hz: 0.3, w: 900, periodS };
    const [finding, ...others] = findingsOf(hunting, site(everyS), log({ everyS, swing }));
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: 'site', severity: 'soon' });
    expect(Math.abs(finding!.start - at('09:20'))).toBeLessThan(8 * 60_000);
    expect(Math.abs(finding!.end! - at('10:20'))).toBeLessThan(3 * 60_000);
    expect(finding!.detectedAt - at('09:20')).toBeLessThan(25 * 60_000);
  });

  test('one that lasts ends with the grid loss', () => {
    const swing = { from: '09:20', to: '10:40', hz: 0.2, w: 900, periodS: 21.3 };
    const [finding] = findingsOf(hunting, site(30), log({ swing }));
    expect(Math.abs(finding!.end! - at('10:30'))).toBeLessThan(60_000);
  });

  test.each<[string, Story]>([
    ['a steady island', {}],
    ['loads that step every few minutes, under droop', { loadW: busy, droop: 0.0002 }],
    ['the same read every minute', { loadW: busy, droop: 0.0002, everyS: 60 }],
    [
      'a grid that swings, which is the grid’s',
      { swing: { from: '08:50', to: '09:00', hz: 0.3, w: 900, periodS: 21.3 } },
    ],
    ['a swing within noise and rounding', { swing: { from: '09:20', to: '10:20', hz: 0.02, w: 60, periodS: 21.3 } }],
  ])('%s is none', (_, story) => {
    expect(findingsOf(hunting, site(story.everyS ?? 30), log(story))).toEqual([]);
  });

  test('a swing out of the band is one condition, raised as hunting with the extreme', () => {
    const swing = { from: '09:20', to: '10:20', hz: 1.4, w: 900, periodS: 21.3 };
    const whole = log({ swing });
    const all = [...findingsOf(hunting, site(30), whole), ...findingsOf(excursions, site(30), whole)];
    const joined = oneCondition(all);
    expect(joined.map(({ kind }) => kind)).toEqual(['hunting']);
    expect(joined[0]!.evidence.excursion_limit_hz).toBeTypeOf('number');
  });

  test('cut at any time the log says what was said live', () => {
    const swing = { from: '09:05', to: '09:35', hz: 0.3, w: 900, periodS: 21.3 };
    const short = log({ swing }).filter(({ t }) => t >= at('08:55') && t < at('09:45'));
    expect(findingsOf(hunting, site(30), short)).toHaveLength(1);
    checkEveryCut(hunting, site(30), short);
  }, 60_000);
});
