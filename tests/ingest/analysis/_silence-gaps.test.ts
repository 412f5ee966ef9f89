import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { intersectGaps, longGaps, whenNowReaches } from '../../../ingest/analysis/_silence-gaps.ts';

const never = Number.POSITIVE_INFINITY;

describe('longGaps', () => {
  test('keeps gaps of at least the limit, with the one that reaches in and the one that lasts', () => {
    expect(longGaps(Float64Array.from([20, 25, 45]), 5, 15)).toEqual([
      { from: 5, to: 20 },
      { from: 25, to: 45 },
      { from: 45, to: never },
    ]);
  });
});

describe('intersectGaps', () => {
  test('is what lies in both and is long enough', () => {
    const a = [
      { from: 0, to: 50 },
      { from: 80, to: 120 },
    ];
    const b = [
      { from: 10, to: 30 },
      { from: 45, to: 100 },
    ];
    expect(intersectGaps(a, b, 10)).toEqual([
      { from: 10, to: 30 },
      { from: 80, to: 100 },
    ]);
  });
});

describe('whenNowReaches', () => {
  test('is the least time at which the upper median of the newest readings is past, by trying every time', () => {
    const readings = fc.uniqueArray(fc.integer({ min: 1, max: 40 }), { maxLength: 8 });
    fc.assert(
      fc.property(fc.array(readings, { minLength: 1, maxLength: 5 }), fc.integer({ min: 1, max: 40 }), (all, x) => {
        const witnesses = all.map((times) => ({ tMs: Float64Array.from(times).sort(), last: null }));
        let expected = never;
        for (let t = 1; t <= 40 && expected === never; t++) {
          const newest = all
            .map((times) => Math.max(...times.filter((u) => u <= t)))
            .filter(Number.isFinite)
            .sort((a, b) => a - b);
          if (newest.length > 0 && newest[Math.floor(newest.length / 2)]! >= x) expected = t;
        }
        expect(whenNowReaches(x, witnesses)).toBe(expected);
      }),
    );
  });

  test('had come before the day where enough of the last readings are past', () => {
    const empty = new Float64Array(0);
    expect(
      whenNowReaches(10, [
        { tMs: empty, last: 12 },
        { tMs: empty, last: 4 },
      ]),
    ).toBe(Number.NEGATIVE_INFINITY);
    expect(
      whenNowReaches(10, [
        { tMs: empty, last: 9 },
        { tMs: Float64Array.of(30), last: 4 },
      ]),
    ).toBe(30);
  });
});
