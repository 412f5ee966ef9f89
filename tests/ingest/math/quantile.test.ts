import { describe, expect, test } from 'vitest';
import { quantile } from '../../../ingest/math/quantile.ts';

describe('quantile', () => {
  test('at 0 and 1 is the smallest and the largest', () =>
    expect([quantile([3, 1, 2], 0), quantile([3, 1, 2], 1)]).toEqual([1, 3]));
  test('of one value is that value', () => expect(quantile([5], 0.3)).toBe(5));
  test.each([-0.1, 1.1, Number.NaN])('refuses the share %d', (p) =>
    expect(() => quantile([1, 2], p)).toThrow('is not between 0 and 1'),
  );
});
