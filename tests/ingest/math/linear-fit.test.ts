import { describe, expect, test } from 'vitest';
import { linearFit } from '../../../ingest/math/linear-fit.ts';

describe('linearFit', () => {
  test('cannot tell a slope where all x are equal', () => expect(linearFit([2, 2, 2], [1, 2, 3])).toBeNull());
  test('cannot tell errors from two points', () => {
    const fit = linearFit([0, 1], [1, 3])!;
    expect(fit).toMatchObject({ slope: 2, intercept: 1 });
    expect([fit.slopeError, fit.interceptError, fit.residualSd]).toEqual([Number.NaN, Number.NaN, Number.NaN]);
  });
  test('explains nothing where all y are equal', () => expect(linearFit([0, 1, 2], [4, 4, 4])!.rSquared).toBeNaN());
  test('refuses columns of different lengths', () =>
    expect(() => linearFit([1, 2], [1])).toThrow('2 x values but 1 y values'));
});
