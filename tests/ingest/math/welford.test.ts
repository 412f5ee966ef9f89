import { describe, expect, test } from 'vitest';
import { mergeMoments, NO_MOMENTS, sampleVariance, welford } from '../../../ingest/math/welford.ts';

describe('welford', () => {
  test('day after day is the same as all at once, through JSON too', () => {
    const first = welford(NO_MOMENTS, [3, 1, 4]);
    expect(welford(JSON.parse(JSON.stringify(first)), [1, 5])).toEqual(welford(NO_MOMENTS, [3, 1, 4, 1, 5]));
  });
  test('does not write to the state it is given', () => {
    const state = Object.freeze(welford(NO_MOMENTS, [1, 2]));
    expect(welford(state, [9]).count).toBe(3);
    expect(state.count).toBe(2);
  });
  test('refuses a missing value', () =>
    expect(() => welford(NO_MOMENTS, [1, Number.NaN])).toThrow('value NaN at index 1'));
});

describe('sampleVariance', () => {
  test('of one value is NaN, because nothing is known of the spread', () =>
    expect(sampleVariance(welford(NO_MOMENTS, [5]))).toBeNaN());
});

describe('mergeMoments', () => {
  test('with nothing changes nothing', () => {
    const some = welford(NO_MOMENTS, [1, 2, 4]);
    expect(mergeMoments(NO_MOMENTS, some)).toEqual(some);
    expect(mergeMoments(some, NO_MOMENTS)).toEqual(some);
  });
});
