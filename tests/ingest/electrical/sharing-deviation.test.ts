import { describe, expect, test } from 'vitest';
import { sharingDeviationPct } from '../../../ingest/electrical/sharing-deviation.ts';

describe('sharingDeviationPct', () => {
  test('is 0 where all carry the same share of their rating', () => {
    expect(sharingDeviationPct([1000, 2000], [5000, 10_000]).map((pct) => Math.abs(pct))).toEqual([0, 0]);
  });
  test('is of the rating, so a wide split of a small load is a small figure', () => {
    expect(sharingDeviationPct([1100, 900], [5000, 5000])[0]).toBeCloseTo(2, 12);
  });
  test('refuses a missing power, a rating of 0, lengths that differ and no unit', () => {
    expect(() => sharingDeviationPct([Number.NaN], [1])).toThrow('power NaN W');
    expect(() => sharingDeviationPct([1], [0])).toThrow('rating 0 W');
    expect(() => sharingDeviationPct([1], [1, 2])).toThrow('1 powers but 2 ratings');
    expect(() => sharingDeviationPct([], [])).toThrow('at least 1 unit');
  });
});
