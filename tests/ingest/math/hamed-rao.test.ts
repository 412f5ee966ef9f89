import { describe, expect, test } from 'vitest';
import { hamedRao } from '../../../ingest/math/hamed-rao.ts';
import { mannKendall } from '../../../ingest/math/mann-kendall.ts';

describe('hamedRao', () => {
  test('finds less in a slow wave than the plain test does', () => {
    const wave = Array.from({ length: 120 }, (_, i) => Math.sin(i / 40) + 0.01 * ((i * 7919) % 13));
    const corrected = hamedRao(wave, 0)!;
    expect(corrected.s).toBe(mannKendall(wave).s);
    expect(corrected.variance).toBeGreaterThan(3 * mannKendall(wave).variance);
  });
  test('gives no answer where the correction leaves no variance', () => {
    // Two lines that cross, taken in turn: the significant ranks are negative in sum.
    const crossing = Array.from({ length: 40 }, (_, i) => (i % 2 === 0 ? i : 50 - i));
    expect(hamedRao(crossing, 0)).toBeNull();
  });
  test('refuses too many values', () => expect(() => hamedRao(new Float64Array(4001), 0)).toThrow('at most 4000'));
});
