import { describe, expect, test } from 'vitest';
import {
  FALSE_ALARMS_A_SITE_YEAR,
  llrThreshold,
  readingsAYear,
  readingsToHold,
} from '../../../ingest/analysis/_budget.ts';

describe('the false-alarm budget', () => {
  test('all parts together stay within 0.1 a site-year', () => {
    expect(Object.values(FALSE_ALARMS_A_SITE_YEAR).reduce((a, b) => a + b, 0)).toBeLessThanOrEqual(0.1);
  });

  test('the threshold makes steps × tests × e^(−h) the wanted rate', () => {
    const h = llrThreshold(0.03, 35_040, 8);
    expect(35_040 * 8 * Math.exp(-h)).toBeCloseTo(0.03, 12);
  });

  test('more tests or a smaller part raise it', () => {
    expect(llrThreshold(0.03, 35_040, 16)).toBeCloseTo(llrThreshold(0.03, 35_040, 8) + Math.LN2, 12);
    expect(llrThreshold(0.015, 35_040, 8)).toBeGreaterThan(llrThreshold(0.03, 35_040, 8));
  });

  test('a run of readings that is held for as long has the wanted rate, and one reading less has not', () => {
    const n = readingsToHold(0.003, 1e6, 0.1);
    expect(1e6 * 0.1 ** n).toBeLessThanOrEqual(0.003);
    expect(1e6 * 0.1 ** (n - 1)).toBeGreaterThan(0.003);
  });

  test('a source that is read every minute sends 525,600 readings a year', () => {
    expect(readingsAYear(60)).toBe(525_600);
  });
});
