import fc from 'fast-check';
import {
  cumulativeStdNormalProbability,
  linearRegression,
  logAverage,
  medianAbsoluteDeviation as madOf,
  mean as meanOf,
  median as medianOf,
  probit,
  quantile as quantileOf,
  rSquared,
  sampleCorrelation,
  sampleRankCorrelation,
  sum as sumOf,
  sampleVariance as varianceOf,
} from 'simple-statistics';
import { describe, expect, test } from 'vitest';
import { autocorrelation } from '../../ingest/math/autocorrelation.ts';
import { linearFit } from '../../ingest/math/linear-fit.ts';
import { logSumExp } from '../../ingest/math/log-sum-exp.ts';
import { mean } from '../../ingest/math/mean.ts';
import { median } from '../../ingest/math/median.ts';
import { medianAbsoluteDeviation } from '../../ingest/math/median-absolute-deviation.ts';
import { normalCdf, normalQuantile } from '../../ingest/math/normal.ts';
import { quantile } from '../../ingest/math/quantile.ts';
import { ranks } from '../../ingest/math/ranks.ts';
import { sum } from '../../ingest/math/sum.ts';
import { mergeMoments, NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { expectWithin } from './_expect-within.ts';

const SEED = 20_261_125;
const sample = fc.array(
  fc.integer({ min: -1_000_000, max: 1_000_000 }).map((n) => n / 1000),
  { minLength: 3, maxLength: 60 },
);
const pairs = fc.array(fc.tuple(fc.integer({ min: -1000, max: 1000 }), fc.integer({ min: -1000, max: 1000 })), {
  minLength: 3,
  maxLength: 40,
});
const agree = (ours: number, theirs: number, scale = 1): void =>
  expectWithin(ours, theirs, 1e-9 * Math.max(1, Math.abs(theirs), scale));

describe(`second opinion: simple-statistics 7.12.1 on random samples (seed ${SEED})`, () => {
  const on = (check: (values: number[]) => void): void =>
    fc.assert(fc.property(sample, check), { seed: SEED, numRuns: 200 });
  test('sum', () => on((values) => agree(sum(values), sumOf(values))));
  test('mean', () => on((values) => agree(mean(values), meanOf(values))));
  test('sample variance', () => on((values) => agree(sampleVariance(welford(NO_MOMENTS, values)), varianceOf(values))));
  test('sample variance of two parts taken together', () =>
    on((values) => {
      const [a, b] = [values.slice(0, 2), values.slice(2)];
      agree(sampleVariance(mergeMoments(welford(NO_MOMENTS, a), welford(NO_MOMENTS, b))), varianceOf(values));
    }));
  test('median', () => on((values) => agree(median(values), medianOf(values))));
  test('median absolute deviation', () => on((values) => agree(medianAbsoluteDeviation(values), madOf(values))));
  test('quantile, definition 7', () =>
    on((values) => {
      for (const p of [0, 0.05, 0.25, 0.5, 0.9, 0.99, 1]) agree(quantile(values, p), quantileOf(values, p));
    }));
  test('least squares and R²', () =>
    fc.assert(
      fc.property(pairs, (points) => {
        const fit = linearFit(
          points.map(([x]) => x),
          points.map(([, y]) => y),
        );
        if (fit === null) return;
        const line = linearRegression(points);
        agree(fit.slope, line.m, 1e3);
        agree(fit.intercept, line.b, 1e3);
        if (!Number.isNaN(fit.rSquared))
          agree(
            fit.rSquared,
            rSquared(points, (x) => line.m * x + line.b),
          );
      }),
      { seed: SEED, numRuns: 200 },
    ));
  test('ranks: without ties the correlation of ranks is the rank correlation', () =>
    fc.assert(
      fc.property(fc.uniqueArray(fc.integer(), { minLength: 4, maxLength: 30 }), (x) => {
        const y = x.map((value, i) => Math.sin(value) + i);
        agree(sampleCorrelation([...ranks(x)], [...ranks(y)]), sampleRankCorrelation(x, y));
      }),
      { seed: SEED, numRuns: 100 },
    ));
  test('logSumExp: the log of a mean, as of a product', () =>
    on((values) => {
      const logs = values.map((value) => value / 1000);
      agree(logSumExp(logs), Math.log(sumOf(logs.map(Math.exp))));
      agree(Math.exp(mean(logs)), logAverage(logs.map(Math.exp)));
    }));
});

describe('second opinion: simple-statistics 7.12.1, standard normal', () => {
  test('Φ to the four digits of its table', () => {
    for (let z = -3; z <= 3; z += 0.25) expectWithin(normalCdf(z), cumulativeStdNormalProbability(z), 1e-4);
  });
  test('Φ⁻¹ to the three digits of its approximation', () => {
    for (const p of [0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99]) expectWithin(normalQuantile(p), probit(p), 5e-3);
  });
});

describe('second opinion: autocorrelation tends to the correlation of neighbours in a long series', () => {
  test('a slow wave resembles itself one step later as both say', () => {
    const wave = Array.from({ length: 5000 }, (_, i) => Math.sin(i / 7));
    expectWithin(autocorrelation(wave), sampleCorrelation(wave.slice(0, -1), wave.slice(1)), 1e-3);
    expect(autocorrelation(wave)).toBeGreaterThan(0.98);
  });
});
