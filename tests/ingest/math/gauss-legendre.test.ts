import { describe, expect, test } from 'vitest';
import { gaussLegendre } from '../../../ingest/math/gauss-legendre.ts';

const integral = (count: number, from: number, to: number, f: (x: number) => number): number => {
  const { nodes, weights } = gaussLegendre(count, from, to);
  return nodes.reduce((total, x, i) => total + weights[i]! * f(x), 0);
};

describe('gaussLegendre', () => {
  test('with n nodes is exact for degree 2n − 1', () => {
    for (const n of [1, 2, 5, 12])
      expect(integral(n, 0, 2, (x) => x ** (2 * n - 1)) / (2 ** (2 * n) / (2 * n))).toBeCloseTo(1, 13);
  });
  test('integrates an exponential with 600 nodes to rounding', () =>
    expect(integral(600, -1, 1, Math.exp)).toBeCloseTo(Math.E - 1 / Math.E, 13));
  test('places its nodes in ascending order', () => {
    const { nodes } = gaussLegendre(9, 0, 1);
    expect([...nodes]).toEqual([...nodes].sort((a, b) => a - b));
  });
  test('refuses half a node', () => expect(() => gaussLegendre(0.5, 0, 1)).toThrow(RangeError));
});
