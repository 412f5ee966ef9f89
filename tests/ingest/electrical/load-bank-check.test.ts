import { describe, expect, test } from 'vitest';
import { loadBankCheck } from '../../../ingest/electrical/load-bank-check.ts';

describe('loadBankCheck', () => {
  test('counts too much as it counts too little', () => {
    expect(loadBankCheck([{ loadPct: 53, ratedW: 1000 }], 500)).toMatchObject({ deviationPct: 6, agrees: false });
    expect(loadBankCheck([{ loadPct: 47, ratedW: 1000 }], 500)).toMatchObject({ deviationPct: -6, agrees: false });
  });
  test('on the tolerance agrees', () =>
    expect(loadBankCheck([{ loadPct: 50, ratedW: 2000 }], 800, 25).agrees).toBe(true));
  test('refuses a missing reading, no unit and no load', () => {
    expect(() => loadBankCheck([{ loadPct: Number.NaN, ratedW: 1000 }], 500)).toThrow('load NaN %');
    expect(() => loadBankCheck([], 500)).toThrow('at least 1 unit');
    expect(() => loadBankCheck([{ loadPct: 1, ratedW: 1 }], 0)).toThrow('load 0 W');
    expect(() => loadBankCheck([{ loadPct: 1, ratedW: 0 }], 1)).toThrow('rating 0 W');
  });
});
