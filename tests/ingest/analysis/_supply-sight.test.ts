import { describe, expect, test } from 'vitest';
import { isStuck, type SightRun, takeDayOnGrid, takeSight } from '../../../ingest/analysis/_supply-sight.ts';

const times = Float64Array.from({ length: 60 }, (_, k) => 30_000 * k);
const volts = Array.from(times, (_, k) => (k < 36 ? 230 + (k % 5) / 10 : k === 40 ? Number.NaN : 230.2));

describe('takeDayOnGrid', () => {
  test('leaves behind what its readings taken one by one do', () => {
    for (const count of [1, 20, 45, 60]) {
      const own = times.subarray(0, count);
      const oneByOne = Array.from(own).reduce<SightRun | null>((run, t, k) => {
        const v = volts[k]!;
        return takeSight(run, 'has', Number.isNaN(v) ? null : v, t);
      }, null);
      expect(takeDayOnGrid(null, own, (row) => volts[row]!)).toEqual(oneByOne);
    }
  });
});

describe('isStuck', () => {
  const runOf = (readings: readonly number[]): SightRun =>
    readings.reduce<SightRun | null>((run, v, k) => takeSight(run, 'has', v, 30_000 * k), null)!;
  const lively = Array.from({ length: 40 }, (_, k) => 230 + (k % 3) / 10);
  const still = Array.from({ length: 25 }, () => 231);

  test('a voltage that moved for long and then stands still is stuck', () => {
    expect(isStuck(runOf([...lively, ...still]))).toBe(true);
  });

  test('one that never moved is only coarse, and one that moves is alive', () => {
    expect(isStuck(runOf(still))).toBe(false);
    expect(isStuck(runOf([...lively, ...still, ...lively]))).toBe(false);
  });
});
