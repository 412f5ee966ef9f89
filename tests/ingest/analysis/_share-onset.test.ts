import { describe, expect, test } from 'vitest';
import { type Deviation, onsetOf } from '../../../ingest/analysis/_share-onset.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { normals } from './_share-log.ts';

function series(count: number, mean: (hour: number) => number, noise: number, seed = 3): Deviation[] {
  const normal = normals(seed);
  return Array.from({ length: count }, (_, hour) => ({ t: hour * HOUR_MS, score: mean(hour) + noise * normal() }));
}

describe('onsetOf', () => {
  test('a clean step began with its first deviating bin', () => {
    expect(onsetOf(series(100, (h) => (h < 80 ? 0 : 5), 0))).toEqual({ t: 80 * HOUR_MS, form: 'step' });
  });

  test('a step in noise is placed within two bins', () => {
    const { t, form } = onsetOf(series(200, (h) => (h < 170 ? 0 : 4), 1));
    expect(form).toBe('step');
    expect(Math.abs(t - 170 * HOUR_MS)).toBeLessThanOrEqual(2 * HOUR_MS);
  });

  test('a ramp began where it left the level, long before it was large', () => {
    const { t, form } = onsetOf(series(300, (h) => Math.max(0, (h - 150) / 15), 1));
    expect(form).toBe('ramp');
    expect(Math.abs(t - 150 * HOUR_MS)).toBeLessThanOrEqual(18 * HOUR_MS);
  });

  test('what lay on the other side before is no part of the drift', () => {
    expect(onsetOf(series(100, (h) => (h < 80 ? -6 : 3), 0)).t).toBe(80 * HOUR_MS);
    expect(onsetOf(series(50, () => -6, 0)).form).toBe('step');
  });

  test('bins across a gap keep their own times', () => {
    const late = series(100, (h) => (h < 80 ? 0 : 5), 0).map((d) => ({
      ...d,
      t: d.t + (d.t >= 80 * HOUR_MS ? 1e9 : 0),
    }));
    expect(onsetOf(late).t).toBe(80 * HOUR_MS + 1e9);
  });

  test('a sum of several bins weighs as much as the bins', () => {
    const each = series(240, (h) => Math.max(0, (h - 120) / 15), 1);
    const summed = Array.from({ length: 30 }, (_, k) => {
      const own = each.slice(k * 6, k * 6 + 6);
      return { t: own[0]!.t, bins: 6, score: own.reduce((sum, { score }) => sum + score, 0) };
    });
    const merged = onsetOf([...summed, ...each.slice(180)]);
    expect(Math.abs(merged.t - onsetOf(each).t)).toBeLessThanOrEqual(12 * HOUR_MS);
    expect(merged.form).toBe('ramp');
  });
});
