import { describe, expect, test } from 'vitest';
import { autocorrelation } from '../../../ingest/math/autocorrelation.ts';

describe('autocorrelation', () => {
  test('at lag 0 is 1', () => expect(autocorrelation([1, 3, 2, 5], 0)).toBe(1));
  test('a gap does not make its two sides neighbours', () => {
    // Deviations 1 −1 – 1 −1: the pairs are (1, −1) twice, and not (−1, 1) across the gap.
    expect(autocorrelation([3, 1, Number.NaN, 3, 1])).toBe(-0.5);
  });
  test('cannot be told of equal values, nor of one', () =>
    expect([autocorrelation([2, 2, 2]), autocorrelation([1])]).toEqual([Number.NaN, Number.NaN]));
  test.each([-1, 0.5])('refuses the lag %d', (lag) => expect(() => autocorrelation([1, 2], lag)).toThrow(RangeError));
});
