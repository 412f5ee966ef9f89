import { describe, expect, test } from 'vitest';
import { createPrng } from '../../../ingest/demo/prng.ts';

describe('createPrng', () => {
  test('the same seed and name give the same stream, another name another', () => {
    const draw = (seed: number, name: string) => {
      const prng = createPrng(seed, name);
      return [prng.uniform(), prng.normal(), prng.whole(1, 1000), prng.between(5, 6)];
    };
    expect(draw(7, 'grid')).toEqual(draw(7, 'grid'));
    expect(draw(7, 'grid')).not.toEqual(draw(7, 'load'));
    expect(draw(7, 'grid')).not.toEqual(draw(8, 'grid'));
  });

  test('uniform and normal have the mean and spread that they promise', () => {
    const prng = createPrng(3, 'moments');
    const n = 40_000;
    const uniforms = Array.from({ length: n }, () => prng.uniform());
    const normals = Array.from({ length: n }, () => prng.normal());
    const mean = (values: number[]) => values.reduce((sum, v) => sum + v, 0) / n;
    expect(mean(uniforms)).toBeCloseTo(0.5, 2);
    expect(Math.abs(mean(normals))).toBeLessThan(0.02);
    expect(Math.sqrt(mean(normals.map((v) => v * v)))).toBeCloseTo(1, 1);
    expect(Math.min(...uniforms)).toBeGreaterThanOrEqual(0);
    expect(Math.max(...uniforms)).toBeLessThan(1);
  });

  test('whole numbers reach both ends and nothing beyond', () => {
    const prng = createPrng(3, 'whole');
    const seen = new Set(Array.from({ length: 500 }, () => prng.whole(3, 8)));
    expect([...seen].sort()).toEqual([3, 4, 5, 6, 7, 8]);
  });
});
