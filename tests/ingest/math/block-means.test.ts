import { describe, expect, test } from 'vitest';
import { blockMeans } from '../../../ingest/math/block-means.ts';

describe('blockMeans', () => {
  test('blocks begin at multiples of their width, before 1970 too', () => {
    expect([...blockMeans([-5, 0, 9, 10], [1, 2, 4, 8], 10).tMs]).toEqual([-10, 0, 10]);
  });
  test('a missing value is skipped, and a block of gaps is absent', () => {
    const blocks = blockMeans([0, 1, 10, 20], [2, Number.NaN, Number.NaN, 6], 10);
    expect([[...blocks.tMs], [...blocks.mean], [...blocks.count]]).toEqual([
      [0, 20],
      [2, 6],
      [1, 1],
    ]);
  });
  test('refuses times that fall back and a width of 0', () => {
    expect(() => blockMeans([1, 0], [1, 1], 10)).toThrow('at index 1 lies before');
    expect(() => blockMeans([1], [1], 0)).toThrow('width 0 ms');
    expect(() => blockMeans([1], [], 10)).toThrow('1 times but 0 values');
  });
});
