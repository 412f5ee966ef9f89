import { describe, expect, test } from 'vitest';
import { MANN_KENDALL_VALUES_MAX, mannKendall, scoreOf } from '../../../ingest/math/mann-kendall.ts';

describe('mannKendall', () => {
  test('a series that only rises has tau 1, one that only falls −1', () => {
    expect(mannKendall([1, 2, 3, 5])).toMatchObject({ s: 6, tau: 1, tauB: 1 });
    expect(mannKendall([5, 3, 2, 1])).toMatchObject({ s: -6, tau: -1, tauB: -1 });
  });
  test('equal values show no trend, and their tau-b cannot be told', () =>
    expect(mannKendall([4, 4, 4])).toMatchObject({ s: 0, z: 0, p: 1, tauB: Number.NaN }));
  test('refuses a missing value', () => expect(() => mannKendall([1, Number.NaN, 3])).toThrow(RangeError));
  test('refuses more values than it can compare', () =>
    expect(() => mannKendall(new Float64Array(MANN_KENDALL_VALUES_MAX + 1))).toThrow('at most 20000'));
});

describe('scoreOf', () => {
  test('is one nearer to zero than s, on both sides', () => {
    expect(scoreOf(5, 4).z).toBe(2);
    expect(scoreOf(-5, 4).z).toBe(-2);
  });
});
