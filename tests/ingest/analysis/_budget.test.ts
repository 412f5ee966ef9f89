import { describe, expect, test } from 'vitest';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from '../../../ingest/analysis/_budget.ts';

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
});
