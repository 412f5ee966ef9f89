import { describe, expect, test } from 'vitest';
import { longRunVariance } from '../../../ingest/math/long-run-variance.ts';

describe('longRunVariance', () => {
  test('cannot be told from one value, nor from gaps alone', () => {
    expect(longRunVariance([1, Number.NaN])).toBeNull();
    expect(longRunVariance([Number.NaN, Number.NaN])).toBeNull();
  });
  test('of equal values is 0', () =>
    expect(longRunVariance([3, 3, 3, 3])).toMatchObject({ variance: 0, meanError: 0 }));
  test('is never negative, not even of a series that alternates', () => {
    const values = Array.from({ length: 50 }, (_, i) => (i % 2 === 0 ? 1 : -1));
    for (const bandwidth of [undefined, 0, 1, 5, 49])
      expect(longRunVariance(values, bandwidth)!.variance).toBeGreaterThanOrEqual(0);
  });
  test('without lags is the plain variance of the sample', () =>
    expect(longRunVariance([1, 2, 3], 0)?.variance).toBeCloseTo(2 / 3, 12));
  test('refuses an infinite value and a negative bandwidth', () => {
    expect(() => longRunVariance([1, Number.POSITIVE_INFINITY])).toThrow('at index 1 is not finite');
    expect(() => longRunVariance([1, 2], -1)).toThrow('bandwidth -1');
  });
});
