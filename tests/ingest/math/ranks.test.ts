import { describe, expect, test } from 'vitest';
import { ranks } from '../../../ingest/math/ranks.ts';

describe('ranks', () => {
  test('equal values share the mean of their ranks', () =>
    expect([...ranks([30, 10, 20, 20])]).toEqual([4, 1, 2.5, 2.5]));
  test('the sum of ranks is n(n + 1)/2', () => expect(ranks([5, 5, 5, 1]).reduce((total, r) => total + r, 0)).toBe(10));
  test('refuses a missing value', () => expect(() => ranks([1, Number.NaN])).toThrow(RangeError));
});
