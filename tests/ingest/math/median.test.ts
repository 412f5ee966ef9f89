import { describe, expect, test } from 'vitest';
import { median } from '../../../ingest/math/median.ts';

describe('median', () => {
  test('is the middle value by size, not by spelling', () => expect(median([100, 9, 10])).toBe(10));
  test('is the mean of the two middle values of an even count', () => expect(median([4, 1, 3, 2])).toBe(2.5));
  test('does not reorder what it is given', () => {
    const values = [3, 1, 2];
    median(values);
    expect(values).toEqual([3, 1, 2]);
  });
  test('refuses a missing value', () => expect(() => median([1, Number.NaN, 2])).toThrow(RangeError));
});
