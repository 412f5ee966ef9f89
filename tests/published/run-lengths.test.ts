import { describe, expect, test } from 'vitest';
import { cusumSignal, cusumStart, cusumStep } from '../../ingest/math/cusum.ts';
import { cusumArlOneSided, cusumArlSiegmund, cusumArlTwoSided, cusumThreshold } from '../../ingest/math/cusum-arl.ts';
import { normalCdf } from '../../ingest/math/normal.ts';
import { solveLinear } from '../../ingest/math/solve-linear.ts';
import { NO_MOMENTS, sampleVariance, welford } from '../../ingest/math/welford.ts';
import { expectWithin } from './_expect-within.ts';
import { seededNormal } from './_seeded-normal.ts';

const SHIFTS = [0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5];
/** Half the last digit of a figure given to three significant digits. */
const lastDigit = (figure: number): number => 0.5 * 10 ** (Math.floor(Math.log10(figure)) - 2) + 1e-9;
/** One figure, 1.32, is cut and not rounded: exact is 1.3254. */
const withHeadStart = (figure: number): number => (figure === 1.32 ? 0.01 : lastDigit(figure));

const TWO_SIDED = [
  {
    source: 'Lucas and Crosier, Technometrics 24(3), 1982, Table 1',
    h: 4,
    headStart: 0,
    arl: [168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31],
    within: lastDigit,
  },
  {
    source: 'Lucas and Crosier, Technometrics 24(3), 1982, Table 1, head start h/2',
    h: 4,
    headStart: 2,
    arl: [149, 62.7, 20.1, 8.97, 5.29, 2.86, 2.01, 1.59, 1.32, 1.07, 1.01],
    within: withHeadStart,
  },
  {
    source: 'computed with R package spc 0.6.7 (xcusum.arl)',
    h: 4,
    headStart: 0,
    arl: [167.6838, 74.224, 26.6302, 13.2851, 8.3831, 4.7472, 3.3428, 2.6195, 2.1945, 1.7085, 1.3087],
    within: () => 5.1e-5,
  },
  {
    source: 'computed with R package spc 0.6.7 (xcusum.arl)',
    h: 5,
    headStart: 0,
    arl: [465.4435, 139.4937, 37.9961, 17.0483, 10.376, 5.7472, 4.0089, 3.1137, 2.5733, 2.0126, 1.6938],
    within: () => 5.1e-5,
  },
  {
    source: 'computed with R package spc 0.6.7 (xcusum.arl)',
    h: 4.77,
    headStart: 0,
    arl: [368.5614, 121.3127, 35.2082, 16.1729, 9.917, 5.5172, 3.8553, 2.9986, 2.4844, 1.9558, 1.6078],
    within: () => 5.1e-5,
  },
] as const;

for (const { source, h, headStart, arl, within } of TWO_SIDED)
  describe(`cusumArlTwoSided: ${source}, k 0.5, h ${h}`, () => {
    test.each(SHIFTS.map((shift, i) => ({ shift, expected: arl[i]! })))(
      'a shift of $shift σ is found after $expected values',
      ({ shift, expected }) => {
        expectWithin(cusumArlTwoSided({ k: 0.5, h, shift, headStart }), expected, within(expected));
      },
    );
  });

const ONE_SIDED = [
  { source: 'R package spc 0.6.7, h 4', k: 0.5, h: 4, shift: 0, expected: 335.3676, within: 5.1e-5 },
  { source: 'R package spc 0.6.7, h 4', k: 0.5, h: 4, shift: 0.25, expected: 77.0785, within: 5.1e-5 },
  { source: 'R package spc 0.6.7, h 4', k: 0.5, h: 4, shift: 0.5, expected: 26.6792, within: 5.1e-5 },
  { source: 'R package spc 0.6.7, h 5', k: 0.5, h: 5, shift: 0, expected: 930.887, within: 5.1e-5 },
  {
    source: 'Brook and Evans, Biometrika 59, 1972 (cut, not rounded)',
    k: 0.5,
    h: 3,
    shift: 0,
    expected: 117.59,
    within: 0.01,
  },
  { source: 'Brook and Evans, Biometrika 59, 1972', k: 0.5, h: 3, shift: 1.5, expected: 3.75, within: 0.005 },
  { source: 'Waldmann, Technometrics 28, 1986', k: 0.5, h: 3, shift: 0.5, expected: 17.35, within: 0.005 },
  { source: 'Waldmann, Technometrics 28, 1986', k: 0.5, h: 3, shift: -0.5, expected: 1963, within: 0.5 },
  // Our figure, 2071.5721, does not change by 1e-7 with three times the nodes; the paper is 3e-5 off.
  {
    source: 'Vance, Journal of Quality Technology 18, 1986',
    k: 0,
    h: 10,
    shift: -0.25,
    expected: 2071.51,
    within: 0.065,
  },
  {
    source: 'Vance, Journal of Quality Technology 18, 1986',
    k: 0,
    h: 10,
    shift: -0.125,
    expected: 400.28,
    within: 0.005,
  },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 0, expected: 124.66, within: 0.005 },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 0.125, expected: 59.3, within: 0.005 },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 0.25, expected: 36.71, within: 0.005 },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 0.5, expected: 20.37, within: 0.005 },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 0.75, expected: 14.06, within: 0.005 },
  { source: 'Vance, Journal of Quality Technology 18, 1986', k: 0, h: 10, shift: 1, expected: 10.75, within: 0.005 },
  // The manual's own method is good to about 1e-7; ours is unchanged in the twelfth digit with three times the nodes.
  { source: "a statistics package's manual", k: 0.25, h: 8, shift: 2.5, expected: 4.1500836225, within: 1.5e-7 },
  {
    source: "a statistics package's manual, head start 0.1",
    k: 0.25,
    h: 8,
    shift: 2.5,
    headStart: 0.1,
    expected: 4.1061588131,
    within: 1.5e-7,
  },
] as const;

for (const { expected, within, source, ...design } of ONE_SIDED)
  describe(`cusumArlOneSided: ${source}, k ${design.k}, h ${design.h}`, () => {
    test(`a shift of ${design.shift} σ is found after ${expected} values`, () =>
      expectWithin(cusumArlOneSided(design), expected, within));
  });

/** The chain of Brook and Evans (1972): m states of equal width in 0…h, the lowest half as wide. */
function brookEvans(k: number, h: number, shift: number, m: number): number {
  const width = (2 * h) / (2 * m - 1);
  const matrix = new Float64Array(m * m);
  for (let i = 0; i < m; i++) {
    for (let j = 0; j < m; j++) {
      const upper = normalCdf((j - i + 0.5) * width + k - shift);
      const lower = j === 0 ? 0 : normalCdf((j - i - 0.5) * width + k - shift);
      matrix[i * m + j] = (i === j ? 1 : 0) - (upper - lower);
    }
  }
  return solveLinear(matrix, new Float64Array(m).fill(1))![0]!;
}

describe('cusumArlOneSided: a second method, the Markov chain of Brook and Evans (1972) refined by extrapolation', () => {
  test.each([
    { k: 0.5, h: 3, shift: 0 },
    { k: 0.5, h: 4, shift: 0 },
    { k: 0.5, h: 5, shift: 1 },
    { k: 0, h: 10, shift: -0.25 },
  ])('agrees at k $k, h $h, shift $shift to 2e-5', ({ k, h, shift }) => {
    // The error goes as 1/m², so two chains of widths w and w/2 give a limit.
    const width = (m: number): number => (2 * h) / (2 * m - 1);
    const [coarse, fine] = [brookEvans(k, h, shift, 100), brookEvans(k, h, shift, 200)];
    const ratio = (width(100) / width(200)) ** 2;
    const refined = fine + (fine - coarse) / (ratio - 1);
    const exact = cusumArlOneSided({ k, h, shift });
    expectWithin(refined / exact, 1, 2e-5);
  });
});

describe('cusumThreshold: computed with R package spc 0.6.7, two-sided, k 0.5', () => {
  test.each([
    { arl0: 370.4, h: 4.7749 },
    { arl0: 500, h: 5.0707 },
    { arl0: 1000, h: 5.7574 },
    { arl0: 10_000, h: 8.053 },
  ])('a run length of $arl0 needs h $h', ({ arl0, h }) => {
    expectWithin(cusumThreshold(0.5, arl0), h, 5.1e-5);
  });
  test('the interval it gives has the run length that was asked for', () => {
    for (const [k, arl0] of [
      [0.25, 1e5],
      [0.5, 20],
      [1, 1e7],
    ] as const) {
      expectWithin(cusumArlTwoSided({ k, h: cusumThreshold(k, arl0) }) / arl0, 1, 1e-9);
    }
  });
});

const SIEGMUND = [
  { source: 'Montgomery, section 9.1 (from memory, unverified): 938.2', h: 5, shift: 0, expected: 938.2, within: 0.05 },
  {
    source: 'Montgomery, section 9.1 (from memory, unverified): 10.3 (10.34)',
    h: 5,
    shift: 1,
    expected: 10.34,
    within: 0.005,
  },
  { source: 'by arithmetic from the formula', h: 4, shift: 0, expected: 338.09, within: 0.005 },
  { source: 'by arithmetic from the formula', h: 4, shift: 1, expected: 8.34, within: 0.005 },
] as const;

for (const { source, h, shift, expected, within } of SIEGMUND)
  describe(`cusumArlSiegmund: ${source}, k 0.5, h ${h}, shift ${shift}`, () => {
    test('the formula gives the figure', () => expectWithin(cusumArlSiegmund({ k: 0.5, h, shift }), expected, within));
  });

describe('cusumArlSiegmund: Montgomery, section 9.1 (from memory, unverified)', () => {
  test('both sides together run 469.1 values, from 1/ARL = 1/ARL⁺ + 1/ARL⁻', () => {
    expectWithin(cusumArlSiegmund({ k: 0.5, h: 5 }) / 2, 469.1, 0.05);
  });
  test('at zero drift it is b²', () => {
    expectWithin(cusumArlSiegmund({ k: 0.5, h: 5, shift: 0.5 }), 6.166 ** 2, 1e-9);
    expectWithin(cusumArlSiegmund({ k: 0.5, h: 5, shift: 0.5 + 1e-4 }), 6.166 ** 2, 0.05);
  });
  test('it is within 3 % of the exact one-sided length', () => {
    for (const shift of [0, 0.25, 0.5, 1])
      expectWithin(cusumArlSiegmund({ k: 0.5, h: 5, shift }) / cusumArlOneSided({ k: 0.5, h: 5, shift }), 1, 0.03);
  });
});

const SIMULATED = [
  { shift: 0, headStart: 0, runs: 2000, seed: 20_261_125 },
  { shift: 0, headStart: 2, runs: 2000, seed: 20_261_126 },
  { shift: 0.5, headStart: 0, runs: 4000, seed: 20_261_127 },
  { shift: 1, headStart: 0, runs: 6000, seed: 20_261_128 },
  { shift: 1, headStart: 2, runs: 6000, seed: 20_261_129 },
] as const;

for (const { shift, headStart, runs, seed } of SIMULATED)
  describe(`cusumStep and cusumSignal, ${runs} seeded runs (seed ${seed}), k 0.5, h 4, shift ${shift}, head start ${headStart}`, () => {
    test('run as long on average as the exact figure says, within 3 standard errors', () => {
      const normal = seededNormal(seed);
      const lengths = Float64Array.from({ length: runs }, () => {
        let state = cusumStart(headStart);
        for (let n = 1; ; n++) {
          state = cusumStep(state, normal() + shift, 0.5);
          if (cusumSignal(state, 0.5, 4) !== null) return n;
        }
      });
      const moments = welford(NO_MOMENTS, lengths);
      expectWithin(
        moments.mean,
        cusumArlTwoSided({ k: 0.5, h: 4, shift, headStart }),
        3 * Math.sqrt(sampleVariance(moments) / runs),
      );
    });
  });

describe('the floor of detection: Moustakides, Annals of Statistics 14, 1986 (from memory, unverified)', () => {
  test('for 1 σ no detector with a one-sided run length of 930.887 has a worst delay under 10.376 values, nor with 335.368 under 8.383', () => {
    expectWithin(cusumArlOneSided({ k: 0.5, h: 5, shift: 1 }), 10.376, 5e-4);
    expectWithin(cusumArlOneSided({ k: 0.5, h: 4, shift: 1 }), 8.383, 5e-4);
    expect(Math.log(930.887) / 0.5).toBeGreaterThan(10.376);
  });
});
