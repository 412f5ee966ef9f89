import { describe, expect, test } from 'vitest';
import type { SourceDay } from '../../../ingest/alignment/day-block.ts';
import { packHours } from '../../../ingest/alignment/pack-hours.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';

const OPTIONS = { day: 0, sampleIntervalS: 60 };

interface Shape {
  readonly soc: (t: number) => number;
  readonly amps?: ((t: number) => number) | null;
  readonly from?: number;
  readonly to?: number;
  readonly everyMs?: number;
}

function pack({ soc, amps = () => 0, from = 0, to = 3 * HOUR_MS, everyMs = MINUTE_MS }: Shape): SourceDay {
  const tMs: number[] = [];
  for (let t = from; t < to; t += everyMs) tMs.push(t);
  const columns = new Map([['soc_pct' as const, Float64Array.from(tMs, soc)]]) as SourceDay['columns'];
  if (amps === null) return { id: 'p', tMs: Float64Array.from(tMs), columns };
  return {
    id: 'p',
    tMs: Float64Array.from(tMs),
    columns: new Map([...columns, ['pack_current_a', Float64Array.from(tMs, amps)]]),
  };
}
const NONE = [null, null];
const still = (pct = 80): SourceDay => pack({ soc: () => pct });
/** 20 A out of 100 Ah: 20 points an hour, less. */
const honest = (t: number): number => 90 - (20 * t) / HOUR_MS;

describe('packHours', () => {
  test('a truthful gauge leaves nothing unexplained, and discharge counts positive', () => {
    const { hours } = packHours([pack({ soc: honest, amps: () => 20 }), still()], [100, 100], NONE, OPTIONS);
    expect(hours).toHaveLength(3);
    expect(hours[2]!.residualPoints[0]).toBeCloseTo(0, 9);
    expect(hours[2]!.netAh[0]).toBeCloseTo((20 * 179) / 60, 9);
    expect(hours[0]!.currentA).toEqual([20, 0]);
    expect(hours[0]!.socPct[1]).toBe(80);
  });

  test('a gauge that runs off leaves just that', () => {
    const soc = (t: number): number => honest(t) - (2 * t) / HOUR_MS;
    const { hours } = packHours([pack({ soc, amps: () => 20 }), still()], [100, 100], NONE, OPTIONS);
    expect(hours[2]!.residualPoints[0]).toBeCloseTo((-2 * 179) / 60, 9);
    expect(hours[2]!.jumpPoints[0]).toBe(0);
  });

  test('capacity decides what a current means: unequal packs are each counted by their own', () => {
    const soc = (t: number): number => 90 - (10 * t) / HOUR_MS;
    const { hours } = packHours([pack({ soc, amps: () => 20 }), still()], [200, 100], NONE, OPTIONS);
    expect(hours[2]!.residualPoints[0]).toBeCloseTo(0, 9);
  });

  test('a gauge of whole percent comes to the same count', () => {
    const soc = (t: number): number => Math.round(honest(t));
    const { hours } = packHours([pack({ soc, amps: () => 20 }), still()], [100, 100], NONE, OPTIONS);
    expect(Math.abs(hours[2]!.residualPoints[0]!)).toBeLessThanOrEqual(1);
  });

  test('a resync is a jump, apart from what runs off', () => {
    const soc = (t: number): number => (t < HOUR_MS ? 97 : 100);
    const { hours } = packHours([pack({ soc }), still()], [100, 100], NONE, OPTIONS);
    expect(hours.map(({ residualPoints }) => residualPoints[0])).toEqual([0, 0, 0]);
    expect(hours.map(({ jumpPoints }) => jumpPoints[0])).toEqual([0, 3, 3]);
  });

  test('a current that stepped between two sparse samples is no jump', () => {
    // 60 A for three of every ten minutes: 3 points, of which the mean of two samples may say all or nothing.
    const amps = (t: number): number => (t % (20 * MINUTE_MS) === 0 ? 60 : 0);
    const soc = (t: number): number => 90 - (3 * t) / (20 * MINUTE_MS);
    const { hours } = packHours([pack({ soc, amps, everyMs: 10 * MINUTE_MS }), still()], [100, 100], NONE, OPTIONS);
    expect(hours[2]!.jumpPoints[0]).toBe(0);
  });

  test.each([['the pack is silent for longer than a gap', (t: number) => t > 20 * MINUTE_MS && t < 50 * MINUTE_MS]])(
    'nothing is counted while %s',
    (_, isGap) => {
      const whole = pack({ soc: honest, amps: () => 20 });
      const rows = [...whole.tMs.keys()].filter((row) => !isGap(whole.tMs[row]!));
      const pick = (from: Float64Array): Float64Array => Float64Array.from(rows, (row) => from[row]!);
      const columns = new Map([...whole.columns].map(([id, column]) => [id, pick(column)]));
      const { hours } = packHours([{ id: 'p', tMs: pick(whole.tMs), columns }, still()], [100, 100], NONE, OPTIONS);
      expect(hours[0]!.netAh[0]).toBeCloseTo((20 * (59 - 30)) / 60, 9);
      expect(hours[0]!.residualPoints[0]).toBeCloseTo(0, 9);
    },
  );

  test('without a current there is no count and no mean, and the charge still speaks', () => {
    const { hours } = packHours([pack({ soc: honest, amps: null }), still()], [100, 100], NONE, OPTIONS);
    expect(hours[0]!.currentA[0]).toBeNull();
    expect(hours[2]!.netAh[0]).toBe(0);
    expect(hours[2]!.residualPoints[0]).toBe(0);
    expect(hours[0]!.socPct[0]).toBeCloseTo(80.17, 2);
  });

  test('a charge that is absent is no charge, and is not carried on', () => {
    const soc = (t: number): number => (t < HOUR_MS ? 80 : Number.NaN);
    const { hours } = packHours([pack({ soc }), still(), still()], [100, 100, 100], [null, null, null], OPTIONS);
    expect(hours.map(({ socPct }) => socPct[0])).toEqual([80, null, null]);
    expect(hours.map(({ residualPoints }) => residualPoints[0])).toEqual([0, null, null]);
  });

  test('an hour in which fewer than two packs spoke is none', () => {
    expect(packHours([still(), undefined], [100, 100], NONE, OPTIONS).hours).toEqual([]);
    expect(packHours([still()], [100], [null], OPTIONS).hours).toEqual([]);
  });

  test('the count runs on over midnight', () => {
    const first = packHours(
      [pack({ soc: honest, amps: () => 20, from: DAY_MS - HOUR_MS, to: DAY_MS }), undefined],
      [100, 100],
      NONE,
      OPTIONS,
    );
    const next = pack({ soc: honest, amps: () => 20, from: DAY_MS, to: DAY_MS + HOUR_MS });
    const other = pack({ soc: () => 80, from: DAY_MS, to: DAY_MS + HOUR_MS });
    const { hours } = packHours([next, other], [100, 100], first.counts, { ...OPTIONS, day: DAY_MS });
    expect(hours[0]!.netAh[0]).toBeCloseTo((20 * 119) / 60, 9);
  });
});
