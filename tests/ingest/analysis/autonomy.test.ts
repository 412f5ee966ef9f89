import { describe, expect, test } from 'vitest';
import type { DayBlock } from '../../../ingest/alignment/day-block.ts';
import { type AutonomyState, autonomy } from '../../../ingest/analysis/autonomy.ts';
import { energyOver, hourOfWeek, hoursOf } from '../../../ingest/vocabulary/autonomy.ts';
import { DAY_MS, epochMs, HOUR_MS, parseTime } from '../../../ingest/vocabulary/time.ts';
import { at, blocksOf, type Line, lines, siteOf } from './_check.ts';

const SITE = siteOf({ units: [{ id: 'u1' }, { id: 'u2' }], packs: ['p1', 'p2'], intervalS: 60 });
const evening = (t: number): boolean => (t / HOUR_MS) % 24 >= 18;
/** 400 W, in the evening 1,600 W; on its own where the case says so, then the charge falls by it. */
function house(days: number, outages: readonly (readonly [string, string])[], whPerPoint: number): Line[] {
  let soc = 90;
  return lines('00:00', `+${days} 00:00`, 60, () => ({})).flatMap(({ t }) => {
    const watts = evening(t) ? 1600 : 400;
    const isAway = outages.some(([from, to]) => t >= at(from) && t < at(to));
    if (isAway) soc -= watts / 60 / whPerPoint;
    else soc = Math.min(90, soc + 0.2);
    const unit = (id: string) => ({ t, unit: id, mode: isAway ? 'backup' : 'grid', output_power_w: watts / 2 });
    return [unit('u1'), unit('u2'), { t, bank: 'bank', bank_soc_pct: Math.round(soc * 10) / 10 }];
  });
}
function told(log: Line[], shift: (block: DayBlock) => DayBlock = (block) => block) {
  const blocks = blocksOf(log).map(shift);
  const state = blocks.reduce<AutonomyState>((s, block) => autonomy.fold(s, block, SITE), autonomy.begin(SITE));
  const asOf = epochMs(Math.max(...log.map(({ t }) => t)));
  return autonomy.answer(JSON.parse(JSON.stringify(state)) as AutonomyState, SITE, asOf).autonomy!;
}

describe('autonomy', () => {
  test('learns usual use by hour of the week, and says what lies between the charge and the reserve', () => {
    const found = told(house(3, [], 100));
    expect(found.because).toBeNull();
    expect(found.loadP50W[12]! / 400).toBeCloseTo(1, 1);
    expect(found.loadP50W[20]! / 1600).toBeCloseTo(1, 1);
    // 2 × 100 Ah × 51.2 V, 92 %, from 90 % down to the reserve.
    const wh = 2 * 100 * 51.2;
    expect(found).toMatchObject({ socPct: 90, isEnergyLearnt: false });
    expect(found.usableWh).toBeCloseTo(((90 - found.reservePct) / 100) * wh * 0.92, -1);
  });

  test('holds itself against each outage with what was known before it, and learns from it what a point gives', () => {
    const found = told(
      house(
        4,
        [
          ['+1 18:00', '+1 20:00'],
          ['+2 18:00', '+2 20:00'],
          ['+3 09:00', '+3 13:00'],
        ],
        80,
      ),
    );
    expect(found.backTests.map(({ hours }) => hours)).toEqual([2, 2, 4]);
    // Before any outage it believed in 94.2 Wh a point, in truth it was 80.
    expect(found.backTests[0]!.error).toBeCloseTo(94.2 / 80 - 1, 1);
    expect(Math.abs(found.backTests[1]!.error)).toBeLessThan(0.06);
    expect(Math.abs(found.backTests[2]!.error)).toBeLessThan(0.06);
    expect(found).toMatchObject({ isEnergyLearnt: true });
    expect(found.outputWhPerPoint).toBeCloseTo(80, -1);
  });

  test('counts hours by the site’s own time', () => {
    const found = told(house(3, [], 100), (block) => ({ ...block, utcOffsetMs: 2 * HOUR_MS }));
    expect(found.loadP50W[20]! / 1600).toBeCloseTo(1, 1);
    expect(found.loadP50W[19]! / 400).toBeCloseTo(1, 1);
  });

  test('tells nothing without a charge, or where the charge is old', () => {
    const log = house(2, [], 100);
    const without = told(log.filter(({ bank }) => bank === undefined));
    expect(without).toMatchObject({ usableWh: null, because: 'no charge of the battery is reported' });
    const old = told(log.filter(({ bank, t }) => bank === undefined || t < at('+1 12:00')));
    expect(old).toMatchObject({ usableWh: null, because: 'the charge of the battery is older than two hours' });
  });

  test('a silent unit is not a load of nothing', () => {
    const log = house(2, [], 100).filter(({ unit, t }) => unit !== 'u2' || t < at('+1 00:00'));
    expect(told(log).loadP50W[12]! / 400).toBeCloseTo(1, 1);
  });
});

describe('hours of a load profile', () => {
  const flat = Array.from({ length: 168 }, (_, hour) => (hour === 3 ? 2000 : 500));

  test('a week begins on Monday, midnight of the site’s own time', () => {
    expect(hourOfWeek(parseTime('2026-03-02T00:00:00Z')!, 0)).toBe(0);
    expect(hourOfWeek(parseTime('2026-03-01T23:30:00Z')!, HOUR_MS)).toBe(0.5);
    expect(hourOfWeek(parseTime('2026-03-02T00:00:00Z')! + 7 * DAY_MS, 0)).toBe(0);
    expect(hourOfWeek(-HOUR_MS, 0)).toBe(71);
  });

  test('energy and hours are each other’s inverse, over parts of hours and over the end of the week', () => {
    for (const [start, hours] of [
      [0, 2.5],
      [2.25, 1.5],
      [166.5, 6.75],
    ] as const)
      expect(hoursOf(energyOver(flat, start, hours)!, flat, start)).toBeCloseTo(hours, 9);
    expect(energyOver(flat, 2.5, 1)).toBe(250 + 1000);
  });

  test('ends where an hour is not known, or after a week', () => {
    const gap = flat.map((w, hour) => (hour === 5 ? null : w));
    expect([hoursOf(10_000, gap, 0), energyOver(gap, 4, 2)]).toEqual([null, null]);
    expect(hoursOf(1e9, flat, 0)).toBe(168);
    expect(hoursOf(0, flat, 0)).toBe(0);
  });
});
