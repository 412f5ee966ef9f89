import { describe, expect, test } from 'vitest';
import { solveLinear } from '../../../ingest/math/solve-linear.ts';

describe('solveLinear', () => {
  test('solves a system that needs a row exchange', () => {
    const x = solveLinear(Float64Array.of(0, 2, 1, 1, 1, 1, 2, 1, 3), Float64Array.of(7, 6, 13))!;
    for (const [i, value] of [1, 2, 3].entries()) expect(x[i]).toBeCloseTo(value, 12);
  });
  test('gives no answer to a singular system', () =>
    expect(solveLinear(Float64Array.of(1, 2, 2, 4), Float64Array.of(1, 2))).toBeNull());
  test('does not write to what it is given', () => {
    const [matrix, right] = [Float64Array.of(2, 1, 1, 3), Float64Array.of(3, 5)];
    solveLinear(matrix, right);
    expect([[...matrix], [...right]]).toEqual([
      [2, 1, 1, 3],
      [3, 5],
    ]);
  });
  test('refuses sizes that do not match', () =>
    expect(() => solveLinear(new Float64Array(3), new Float64Array(2))).toThrow('expected 4'));
});
