import { describe, expect, test } from 'vitest';
import { changePoint } from '../../ingest/math/change-point.ts';
import { hamedRao } from '../../ingest/math/hamed-rao.ts';
import { linearFit } from '../../ingest/math/linear-fit.ts';
import { mannKendall } from '../../ingest/math/mann-kendall.ts';
import { mean } from '../../ingest/math/mean.ts';
import { theilSen } from '../../ingest/math/theil-sen.ts';
import { NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { isPresent, readColumns } from './_datasets.ts';
import { expectWithin } from './_expect-within.ts';

const EPA = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15];

describe('mannKendall: EPA QA/G-9S, 2006, page 109 (ties of 4 and 2)', () => {
  const trend = mannKendall(EPA);
  test('S is 22', () => expect(trend.s).toBe(22));
  test('its variance is 155.33', () => expectWithin(trend.variance, 155.33, 0.005));
  test('Z is 1.685', () => expectWithin(trend.z, 1.685, 5e-4));
});

describe('mannKendall and theilSen: the EPA data, computed with SciPy 1.17.1', () => {
  test('variance 155.333333, Z 1.684950, tau-b 0.428174', () => {
    const { variance, z, tauB } = mannKendall(EPA);
    expectWithin(variance, 155.333333, 5e-7);
    expectWithin(z, 1.68495, 5e-7);
    expectWithin(tauB, 0.428174, 5e-7);
  });
  test('the median slope is 1 a step, the intercept 9', () => {
    expect(
      theilSen(
        EPA.map((_, i) => i + 1),
        EPA,
      ),
    ).toEqual({ slope: 1, intercept: 9 });
  });
});

describe('mannKendall, theilSen and hamedRao: 360 values with 7 gaps, pyMannKendall test suite (MIT), compared there with four R packages', () => {
  const file = 'mann-kendall-360-values.csv';
  const read = (): { t: Float64Array; values: Float64Array } => {
    const columns = readColumns(file);
    const all = columns.get('value')!;
    const isThere = (_: number, i: number): boolean => !Number.isNaN(all[i]);
    return { t: columns.get('index')!.filter(isThere), values: all.filter(isThere) };
  };
  test.runIf(isPresent(file))('without allowing for autocorrelation there is no trend: S −1959, p 0.376', () => {
    const { count, s, variance, z, p, tau } = mannKendall(read().values);
    expect({ count, s }).toEqual({ count: 353, s: -1959 });
    expectWithin(variance, 4889800.333333333, 1e-8);
    expectWithin(z, -0.8854562842589916, 1e-14);
    expectWithin(p, 0.37591058740506833, 1e-14);
    expectWithin(tau, -0.03153167653875869, 1e-15);
  });
  test.runIf(isPresent(file))('the median slope keeps the gaps on the time axis', () => {
    const { t, values } = read();
    const line = theilSen(t, values);
    expectWithin(line?.slope, -0.006369426751592357, 1e-16);
    expectWithin(line?.intercept, 96.15286624203821, 1e-13);
  });
  test.runIf(isPresent(file))('allowing for autocorrelation it is decreasing: Z −3.842, p 0.00012', () => {
    const { t, values } = read();
    const corrected = hamedRao(values, theilSen(t, values)!.slope);
    expectWithin(corrected?.variance, 259723.81316717126, 1e-6);
    expectWithin(corrected?.z, -3.8419950613710894, 1e-11);
    expectWithin(corrected?.p, 0.00012203829241275166, 1e-14);
  });
});

describe('theilSen: Helsel and Hirsch, Statistical Methods in Water Resources, chapter 10 (from memory, unverified)', () => {
  const x = [1, 2, 3, 4, 5, 6, 7];
  const y = [1, 2, 3, 4, 5, 16, 7];
  test('one wild value does not move the slope of 1', () => expect(theilSen(x, y)).toEqual({ slope: 1, intercept: 0 }));
  test('it does move least squares: 1.7142857 and −1.4285714 (by arithmetic)', () => {
    expectWithin(linearFit(x, y)?.slope, 1.7142857, 5e-8);
    expectWithin(linearFit(x, y)?.intercept, -1.4285714, 5e-8);
  });
});

describe('changePoint: annual flow of the Nile 1871–1970, R datasets::Nile (break of 1898 from memory, unverified; figures computed with R 4.2.2)', () => {
  const file = 'nile-annual-flow-1871-1970.csv';
  test.runIf(isPresent(file))('the level breaks after 28 years, from 1097.75 to 849.9722, RSS 1597457', () => {
    const columns = readColumns(file);
    const flow = columns.get('flow_1e8_m3')!;
    const found = changePoint(flow);
    expect(found.index).toBe(28);
    expect(columns.get('year')![found.index - 1]).toBe(1898);
    expectWithin(found.meanBefore, 1097.75, 5e-3);
    expectWithin(found.meanAfter, 849.9722, 5e-5);
    expectWithin(found.residualSquares, 1597457, 0.5);
    expectWithin(mean(flow), 919.35, 5e-3);
    expectWithin(Math.sqrt(sampleVariance(welford(NO_MOMENTS, flow))), 169.2275, 5e-5);
  });
});
