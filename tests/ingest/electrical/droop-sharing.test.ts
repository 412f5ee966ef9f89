import { describe, expect, test } from 'vitest';
import { droopSharing, droopSharingLimited, largestDroopLoadW } from '../../../ingest/electrical/droop-sharing.ts';

const equal = { noLoadHz: 51, fullLoadHz: 49, ratedW: 5000 };

describe('droopSharing', () => {
  test('equal droops share as the ratings', () => {
    expect(droopSharing([equal, { ...equal, ratedW: 10_000 }], 6000).powersW.map(Math.round)).toEqual([2000, 4000]);
  });
  test('at no load a unit set higher feeds the other', () => {
    const [high, low] = droopSharing([{ ...equal, noLoadHz: 51.1, fullLoadHz: 49.1 }, equal], 0).powersW;
    expect(high).toBeCloseTo(125, 6);
    expect(low).toBeCloseTo(-125, 6);
  });
  test('refuses a frequency that rises with load, no unit, and a missing load', () => {
    expect(() => droopSharing([{ ...equal, fullLoadHz: 52 }], 100)).toThrow('51 Hz at no load is not above 52 Hz');
    expect(() => droopSharing([], 100)).toThrow('at least 1 unit');
    expect(() => droopSharing([equal], Number.NaN)).toThrow('load NaN W');
    expect(() => droopSharing([{ ...equal, ratedW: 0 }], 1)).toThrow('rating 0 W');
  });
});

describe('droopSharingLimited', () => {
  test('is plain droop while nobody is overloaded', () => {
    const units = [equal, { ...equal, fullLoadHz: 48 }];
    expect(droopSharingLimited(units, 4000)).toMatchObject({
      ...droopSharing(units, 4000),
      isLimited: [false, false],
      unservedW: 0,
    });
  });
  test('never gives a unit more than its rating, and loses no load', () => {
    const units = [equal, { ...equal, noLoadHz: 51.5, fullLoadHz: 50 }, { ...equal, ratedW: 3000 }];
    for (let loadW = 0; loadW <= 16_000; loadW += 500) {
      const { powersW, unservedW } = droopSharingLimited(units, loadW);
      for (const [k, w] of powersW.entries()) expect(w).toBeLessThanOrEqual(units[k]!.ratedW);
      expect(powersW.reduce((total, w) => total + w, unservedW)).toBeCloseTo(loadW, 6);
    }
  });
});

describe('largestDroopLoadW', () => {
  test('is the sum of ratings where the droops match', () =>
    expect(largestDroopLoadW([equal, { ...equal, ratedW: 8000 }])).toBeCloseTo(13_000, 6));
  test('refuses no unit', () => expect(() => largestDroopLoadW([])).toThrow(RangeError));
});
