import { describe, expect, test } from 'vitest';
import { ewmaHalfWidth, ewmaStep } from '../../../ingest/math/ewma.ts';

describe('ewmaStep', () => {
  test('with weight 1 is the value itself', () => expect(ewmaStep(5, 8, 1)).toBe(8));
  test('refuses a missing value and a weight of 0', () => {
    expect(() => ewmaStep(5, Number.NaN, 0.2)).toThrow(RangeError);
    expect(() => ewmaStep(5, 5, 0)).toThrow('weight 0 is not above 0');
  });
});

describe('ewmaHalfWidth', () => {
  test('refuses a standard deviation of 0 and NaN', () => {
    expect(() => ewmaHalfWidth(0, 0.2, 3)).toThrow(RangeError);
    expect(() => ewmaHalfWidth(Number.NaN, 0.2, 3)).toThrow(RangeError);
  });
});
