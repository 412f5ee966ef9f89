import { describe, expect, test } from 'vitest';
import { normalCdf, normalLogPdf, normalQuantile } from '../../../ingest/math/normal.ts';

describe('normalCdf', () => {
  test('is symmetric and rises', () => {
    for (let z = 0; z < 8; z += 0.1) {
      expect(normalCdf(z) + normalCdf(-z)).toBeCloseTo(1, 15);
      expect(normalCdf(z + 0.1)).toBeGreaterThanOrEqual(normalCdf(z));
    }
  });
  test('reaches 0 and 1 at the infinities', () =>
    expect([normalCdf(Number.NEGATIVE_INFINITY), normalCdf(Number.POSITIVE_INFINITY)]).toEqual([0, 1]));
  test('is one half at zero', () => expect(normalCdf(0)).toBe(0.5));
  test('refuses NaN', () => expect(() => normalCdf(Number.NaN)).toThrow(RangeError));
});

describe('normalQuantile', () => {
  test('leads back to the probability', () => {
    for (const p of [1e-100, 1e-9, 0.001, 0.3, 0.6, 0.999]) expect(normalCdf(normalQuantile(p)) / p).toBeCloseTo(1, 12);
  });
  test('of 0 and 1 is infinite', () =>
    expect([normalQuantile(0), normalQuantile(1)]).toEqual([Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]));
  test.each([-0.1, 1.1, Number.NaN])('refuses %d', (p) =>
    expect(() => normalQuantile(p)).toThrow('is not between 0 and 1'),
  );
});

describe('normalLogPdf', () => {
  test('is the slope of the cumulative probability', () => {
    expect((normalCdf(0.7 + 1e-5) - normalCdf(0.7 - 1e-5)) / 2e-5).toBeCloseTo(Math.exp(normalLogPdf(0.7)), 9);
  });
  test('refuses a standard deviation of 0, and NaN', () => {
    expect(() => normalLogPdf(1, 0, 0)).toThrow('standard deviation 0 is not above 0');
    expect(() => normalLogPdf(Number.NaN)).toThrow(RangeError);
  });
});
