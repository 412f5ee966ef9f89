import { describe, test } from 'vitest';
import { median } from '../../ingest/math/median.ts';
import { MAD_TO_SIGMA, medianAbsoluteDeviation } from '../../ingest/math/median-absolute-deviation.ts';
import { normalCdf, normalLogPdf, normalQuantile } from '../../ingest/math/normal.ts';
import { quantile } from '../../ingest/math/quantile.ts';
import { expectWithin } from './_expect-within.ts';

const SAMPLE = [10.2, 10.1, 9.9, 10, 10.3, 15, 9.8];

describe('median and medianAbsoluteDeviation: computed with SciPy 1.17.1 (median_abs_deviation)', () => {
  test('the median is 10.1', () => expectWithin(median(SAMPLE), 10.1, 1e-12));
  test('the deviation is 0.2, scaled 0.29652044', () => {
    expectWithin(medianAbsoluteDeviation(SAMPLE), 0.2, 1e-12);
    expectWithin(MAD_TO_SIGMA * medianAbsoluteDeviation(SAMPLE), 0.29652044, 5e-9);
  });
  test('the scale is 1/Φ⁻¹(3/4)', () => expectWithin(1 / normalQuantile(0.75), MAD_TO_SIGMA, 1e-15));
});

const QUANTILES = [
  {
    source: 'Hyndman and Fan, The American Statistician 50, 1996, definition 7: place (n − 1)p',
    values: [1, 2, 3, 4, 5, 6, 7, 8, 9, 10],
    p: 0.25,
    expected: 3.25,
  },
  {
    source: 'Hyndman and Fan, The American Statistician 50, 1996, definition 7: place (n − 1)p',
    values: [10, 1, 4, 7],
    p: 0.9,
    expected: 9.1,
  },
] as const;
for (const { source, values, p, expected } of QUANTILES)
  describe(`quantile: ${source}`, () => {
    test(`the ${p} quantile of ${values.join(', ')} is ${expected}`, () =>
      expectWithin(quantile(values, p), expected, 1e-12));
  });

const NORMAL = [
  { source: 'Abramowitz and Stegun, Table 26.1 (from memory, unverified)', z: 1, p: 0.841344746069 },
  { source: 'Abramowitz and Stegun, Table 26.1 (from memory, unverified)', z: 2, p: 0.977249868052 },
  { source: 'Abramowitz and Stegun, Table 26.1 (from memory, unverified)', z: 3, p: 0.998650101968 },
] as const;
for (const { source, z, p } of NORMAL)
  describe(`normalCdf: ${source}`, () => {
    test(`Φ(${z}) = ${p}`, () => expectWithin(normalCdf(z), p, 5.1e-13));
  });

describe('normalCdf: run lengths of the 3 σ individuals chart (exact normal)', () => {
  test.each([
    { shift: 0, arl: 370.398 },
    { shift: 0.5, arl: 155.224 },
    { shift: 1, arl: 43.895 },
    { shift: 1.5, arl: 14.968 },
    { shift: 2, arl: 6.303 },
    { shift: 3, arl: 2 },
  ])('a shift of $shift σ is found after $arl values', ({ shift, arl }) =>
    expectWithin(1 / (normalCdf(shift - 3) + normalCdf(-shift - 3)), arl, 5e-4),
  );
});

describe('normalCdf, normalQuantile and normalLogPdf: computed with SciPy 1.17.1 (scipy.stats.norm), relative 1e-13', () => {
  const CDF = [
    [-20, 2.7536241186061556e-89],
    [-8, 6.22096057427174e-16],
    [-5, 2.866515718791933e-7],
    [-3.0000001, 0.0013498975884453205],
    [-2.9999999, 0.0013498984748150013],
    [-1, 0.15865525393145707],
    [-0.1, 0.460172162722971],
    [0.3, 0.6179114221889526],
    [2.5, 0.9937903346742238],
    [6, 0.9999999990134123],
  ] as const;
  test.each(CDF)('Φ(%d) = %d', (z, p) => expectWithin(normalCdf(z), p, 2e-13 * p));
  const QUANTILE = [
    [1e-300, -37.0470962993612],
    [1e-20, -9.262340089798409],
    [1e-6, -4.753424308822899],
    [0.025, -1.9599639845400545],
    [0.2, -0.8416212335729142],
    [0.5, 0],
    [0.75, 0.6744897501960817],
    [0.975, 1.959963984540054],
    [0.999999, 4.753424308817087],
  ] as const;
  test.each(QUANTILE)('Φ⁻¹(%d) = %d', (p, z) => expectWithin(normalQuantile(p), z, 1e-13 * Math.abs(z)));
  test('the log density at 1.5 for mean 0.5 and sd 2, and at 40', () => {
    expectWithin(normalLogPdf(1.5, 0.5, 2), -1.737085713764618, 1e-14);
    expectWithin(normalLogPdf(40), -800.9189385332047, 1e-12);
  });
});
