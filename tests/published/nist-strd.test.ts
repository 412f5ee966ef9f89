import { describe, test } from 'vitest';
import { autocorrelation } from '../../ingest/math/autocorrelation.ts';
import { lineThroughOrigin } from '../../ingest/math/line-through-origin.ts';
import { linearFit } from '../../ingest/math/linear-fit.ts';
import { mean } from '../../ingest/math/mean.ts';
import { theilSen } from '../../ingest/math/theil-sen.ts';
import { NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { expectWithin } from './_expect-within.ts';

// Certified values have 15 digits; a double computation keeps 12 or 13 of them on these data, so the tolerance is relative 1e-12 unless said.
const near = (actual: number | undefined, certified: number, relative = 1e-12): void =>
  expectWithin(actual, certified, Math.abs(certified) * relative);

const NORRIS_Y = [
  0.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
  557.7, 228.3, 998, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
];
const NORRIS_X = [
  0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5, 666.9, 338, 447.5, 11.6, 556,
  228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
];

describe('linearFit: NIST StRD, Norris, certified values', () => {
  const fit = linearFit(NORRIS_X, NORRIS_Y)!;
  const certified = [
    { what: 'intercept', actual: fit.intercept, value: -0.262323073774029 },
    { what: 'standard deviation of the intercept', actual: fit.interceptError, value: 0.232818234301152 },
    { what: 'slope', actual: fit.slope, value: 1.00211681802045 },
    { what: 'standard deviation of the slope', actual: fit.slopeError, value: 0.429796848199937e-3 },
    { what: 'residual standard deviation', actual: fit.residualSd, value: 0.884796396144373 },
    { what: 'R²', actual: fit.rSquared, value: 0.999993745883712 },
    { what: 'regression sum of squares', actual: fit.regressionSquares, value: 4255954.13232369 },
    { what: 'residual sum of squares', actual: fit.residualSquares, value: 26.6173985294224 },
    { what: 'F statistic', actual: fit.regressionSquares / (fit.residualSquares / 34), value: 5436385.54079785 },
  ];
  test.each(certified)('the $what is $value', ({ actual, value }) => near(actual, value));
});

describe('theilSen: NIST StRD, Norris; slope computed with SciPy 1.17.1 (theilslopes)', () => {
  test('the median slope is 1.0021968365553604', () => near(theilSen(NORRIS_X, NORRIS_Y)?.slope, 1.0021968365553604));
});

describe('lineThroughOrigin: NIST StRD, NoInt1, certified values', () => {
  const y = Array.from({ length: 11 }, (_, i) => 130 + i);
  const fit = lineThroughOrigin(
    Array.from(y, (_, i) => 60 + i),
    y,
  )!;
  test('the slope is 2.07438016528926', () => near(fit.slope, 2.07438016528926));
  test('its standard deviation is 0.0165289256198347', () => near(fit.slopeError, 0.0165289256198347));
  test('the residual standard deviation is 3.56753034006338', () => near(fit.residualSd, 3.56753034006338));
});

describe('lineThroughOrigin: NIST StRD, NoInt2, certified values', () => {
  const fit = lineThroughOrigin([4, 5, 6], [3, 4, 4])!;
  test('the slope is 0.727272727272727', () => near(fit.slope, 0.727272727272727));
  test('its standard deviation is 0.0420827318078432', () => near(fit.slopeError, 0.0420827318078432));
  test('the residual standard deviation is 0.369274472937998', () => near(fit.residualSd, 0.369274472937998));
  test('R² is 0.993348115299335', () => near(fit.rSquared, 0.993348115299335));
});

const alternating = (first: number, low: number, high: number): number[] => [
  first,
  ...Array.from({ length: 1000 }, (_, i) => (i % 2 === 0 ? low : high)),
];

// The data themselves are doubles: at 1e7 neighbouring doubles lie 1.9e-9 apart, so no method can do better than about 1e-8 of an sd of 0.1.
const ACCURACY = [
  {
    source: 'NumAcc1',
    values: [10_000_001, 10_000_003, 10_000_002],
    mean: 10_000_002,
    sd: 1,
    withinSd: 1e-15,
    r: -0.5,
  },
  { source: 'NumAcc2', values: alternating(1.2, 1.1, 1.3), mean: 1.2, sd: 0.1, withinSd: 1e-14, r: -0.999 },
  {
    source: 'NumAcc3',
    values: alternating(1_000_000.2, 1_000_000.1, 1_000_000.3),
    mean: 1_000_000.2,
    sd: 0.1,
    withinSd: 1e-9,
    r: -0.999,
  },
  {
    source: 'NumAcc4',
    values: alternating(10_000_000.2, 10_000_000.1, 10_000_000.3),
    mean: 10_000_000.2,
    sd: 0.1,
    withinSd: 1e-8,
    r: -0.999,
  },
] as const;

for (const { source, values, mean: certifiedMean, sd, withinSd, r } of ACCURACY) {
  describe(`welford and mean: NIST StRD, ${source}, certified values`, () => {
    const moments = welford(NO_MOMENTS, values);
    test(`the running mean is ${certifiedMean}`, () => near(moments.mean, certifiedMean, 5e-16));
    test(`the mean is ${certifiedMean}`, () => near(mean(values), certifiedMean, 2.3e-16));
    test(`the standard deviation is ${sd}`, () => expectWithin(Math.sqrt(sampleVariance(moments)), sd, withinSd));
  });
  describe(`autocorrelation: NIST StRD, ${source}, certified r(1) (from memory, unverified; arithmetic agrees)`, () => {
    test(`the lag 1 coefficient is ${r}`, () => expectWithin(autocorrelation(values), r, 1e-7));
  });
}
