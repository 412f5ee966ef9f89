import { describe, expect, test } from 'vitest';
import { longRunVariance } from '../../ingest/math/long-run-variance.ts';
import { NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { expectWithin } from './_expect-within.ts';
import { seededNormal } from './_seeded-normal.ts';

function autoregressive(count: number, phi: number, seed: number): Float64Array {
  const normal = seededNormal(seed);
  let value = normal() / Math.sqrt(1 - phi * phi);
  return Float64Array.from({ length: count }, () => (value = phi * value + normal()));
}

describe('longRunVariance: by hand from Newey and West, Econometrica 55, 1987 (Bartlett weights 1 − j/(m + 1))', () => {
  test('1 2 3 4 with one lag: γ0 1.25, γ1 0.3125, so 1.25 + 2·½·0.3125 = 1.5625', () => {
    expect(longRunVariance([1, 2, 3, 4], 1)).toEqual({ count: 4, variance: 1.5625, bandwidth: 1, meanError: 0.625 });
  });
  test('a gap keeps its neighbours two lags apart: 1 2 – 4 5, mean 3, γ0 2.5, γ1 (2 + 2)/4', () => {
    expectWithin(longRunVariance([1, 2, Number.NaN, 4, 5], 1)?.variance, 3.5, 1e-12);
  });
});

// The theory: σ²/(1 − φ)². Bartlett's bias is downward, a few per cent at these lengths, so the tolerance is 15 %.
const THEORY = [
  {
    source: 'long-run variance of an autoregression, σ²/(1 − φ)² (any textbook on time series)',
    phi: 0,
    seed: 1,
    expected: 1,
  },
  {
    source: 'long-run variance of an autoregression, σ²/(1 − φ)² (any textbook on time series)',
    phi: 0.5,
    seed: 2,
    expected: 4,
  },
  {
    source: 'long-run variance of an autoregression, σ²/(1 − φ)² (any textbook on time series)',
    phi: 0.8,
    seed: 3,
    expected: 25,
  },
  {
    source: 'long-run variance of an autoregression, σ²/(1 − φ)² (any textbook on time series)',
    phi: -0.4,
    seed: 4,
    expected: 1 / 1.96,
  },
] as const;
for (const { source, phi, seed, expected } of THEORY)
  describe(`longRunVariance: ${source}, φ ${phi}, seed ${seed}`, () => {
    test(`of 40 000 values it is ${expected.toPrecision(3)} within 15 %`, () => {
      expectWithin(longRunVariance(autoregressive(40_000, phi, seed))!.variance / expected, 1, 0.15);
    });
  });

describe('longRunVariance: seeded simulation, φ 0.6, 400 values with two gaps', () => {
  test('its standard error is that of the mean over 400 repeats, within 15 %, where the plain one is half', () => {
    let means = NO_MOMENTS;
    let errors = NO_MOMENTS;
    let plain = NO_MOMENTS;
    for (let repeat = 0; repeat < 400; repeat++) {
      const values = autoregressive(400, 0.6, 1000 + repeat).map((value, i) =>
        (i >= 100 && i < 130) || (i >= 250 && i < 300) ? Number.NaN : value,
      );
      const there = values.filter((value) => !Number.isNaN(value));
      const moments = welford(NO_MOMENTS, there);
      means = welford(means, [moments.mean]);
      errors = welford(errors, [longRunVariance(values)!.meanError]);
      plain = welford(plain, [Math.sqrt(sampleVariance(moments) / there.length)]);
    }
    const truth = Math.sqrt(sampleVariance(means));
    expectWithin(errors.mean / truth, 1, 0.15);
    expect(plain.mean / truth).toBeLessThan(0.6);
  });
});
