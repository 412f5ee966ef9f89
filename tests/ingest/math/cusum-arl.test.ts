import { describe, expect, test } from 'vitest';
import {
  cusumArlOneSided,
  cusumArlSiegmund,
  cusumArlTwoSided,
  cusumThreshold,
} from '../../../ingest/math/cusum-arl.ts';

describe('cusumArlOneSided', () => {
  test('with an interval near 0 waits for one value beyond the allowance', () => {
    expect(cusumArlOneSided({ k: 0, h: 1e-9 })).toBeCloseTo(2, 6);
  });
  test('from a head start at the limit runs shorter than from zero', () => {
    expect(cusumArlOneSided({ k: 0.5, h: 4, headStart: 4 })).toBeLessThan(cusumArlOneSided({ k: 0.5, h: 4 }));
  });
  test('says infinity where it is too long to tell', () =>
    expect(cusumArlOneSided({ k: 3, h: 30 })).toBe(Number.POSITIVE_INFINITY));
  test.each([
    { k: -1, h: 4 },
    { k: 0.5, h: 0 },
    { k: 0.5, h: 101 },
    { k: 0.5, h: 4, headStart: 5 },
    { k: 0.5, h: 4, shift: Number.NaN },
  ])('refuses %o', (design) => {
    expect(() => cusumArlOneSided(design)).toThrow(RangeError);
  });
});

describe('cusumArlTwoSided', () => {
  test('does not care for the sign of a shift', () => {
    expect(cusumArlTwoSided({ k: 0.5, h: 4, shift: -1, headStart: 1 })).toBeCloseTo(
      cusumArlTwoSided({ k: 0.5, h: 4, shift: 1, headStart: 1 }),
      9,
    );
  });
  test('stays finite where one side never signals', () =>
    expect(cusumArlTwoSided({ k: 0.5, h: 8, shift: 5, headStart: 4 })).toBeLessThan(3));
});

describe('cusumArlSiegmund', () => {
  test('refuses what the exact one refuses', () =>
    expect(() => cusumArlSiegmund({ k: 0.5, h: -1 })).toThrow(RangeError));
});

describe('cusumThreshold', () => {
  test('rises with the wanted run length and falls with the allowance', () => {
    expect(cusumThreshold(0.5, 1000)).toBeGreaterThan(cusumThreshold(0.5, 100));
    expect(cusumThreshold(1, 1000)).toBeLessThan(cusumThreshold(0.5, 1000));
  });
  test('refuses a run length that the allowance alone exceeds, and one that no interval reaches', () => {
    expect(() => cusumThreshold(4, 100)).toThrow('allowance 4 alone gives more than run length 100');
    expect(() => cusumThreshold(0, 1e6)).toThrow('needs more than 100');
    expect(() => cusumThreshold(0.5, 1)).toThrow('run length 1 is not between');
  });
});
