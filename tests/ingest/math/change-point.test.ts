import { describe, expect, test } from 'vitest';
import { changePoint } from '../../../ingest/math/change-point.ts';

describe('changePoint', () => {
  test('finds a clean step and leaves nothing', () => {
    expect(changePoint([1, 1, 1, 5, 5])).toMatchObject({ index: 3, meanBefore: 1, meanAfter: 5, residualSquares: 0 });
  });
  test('is the best of all breaks, by trying each', () => {
    const values = Array.from({ length: 40 }, (_, i) => Math.sin(i * 12.9898) * 3 + (i > 25 ? 1.5 : 0));
    const squares = (part: readonly number[]): number => {
      const centre = part.reduce((total, v) => total + v, 0) / part.length;
      return part.reduce((total, v) => total + (v - centre) ** 2, 0);
    };
    const tried = Array.from({ length: 39 }, (_, i) => squares(values.slice(0, i + 1)) + squares(values.slice(i + 1)));
    const found = changePoint(values);
    expect(found.residualSquares).toBeCloseTo(Math.min(...tried), 9);
    expect(found.index).toBe(tried.indexOf(Math.min(...tried)) + 1);
  });
  test('keeps both sides as long as asked', () =>
    expect(changePoint([9, 0, 0, 0, 0, 0], 2).index).toBeGreaterThanOrEqual(2));
  test('of equal values is the first place, and gains nothing', () =>
    expect(changePoint([2, 2, 2, 2])).toMatchObject({ index: 1, residualSquares: 0, totalSquares: 0 }));
  test('refuses too few values, a missing one and a piece of length 0', () => {
    expect(() => changePoint([1, 2, 3], 2)).toThrow('needs at least 4 values, got 3');
    expect(() => changePoint([1, Number.NaN])).toThrow(RangeError);
    expect(() => changePoint([1, 2], 0)).toThrow('shortest piece 0');
  });
});
