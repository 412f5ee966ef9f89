import { describe, expect, test } from 'vitest';
import { medianAbsoluteDeviation } from '../../../ingest/math/median-absolute-deviation.ts';

describe('medianAbsoluteDeviation', () => {
  test('is not moved by one wild value', () => {
    expect(medianAbsoluteDeviation([1, 2, 3, 4, 1e9])).toBe(medianAbsoluteDeviation([1, 2, 3, 4, 5]));
  });
  test('is zero where more than half the values are equal', () =>
    expect(medianAbsoluteDeviation([7, 7, 7, 1, 9])).toBe(0));
  test('refuses an empty sample', () => expect(() => medianAbsoluteDeviation([])).toThrow(RangeError));
});
