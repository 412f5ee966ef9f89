import { describe, expect, test } from 'vitest';
import { type CusumState, cusumSignal, cusumStart, cusumStep } from '../../ingest/math/cusum.ts';
import { mean } from '../../ingest/math/mean.ts';
import { isPresent, readColumns } from './_datasets.ts';
import { expectAllWithin, expectWithin } from './_expect-within.ts';

function run(values: ArrayLike<number>, target: number, allowance: number): CusumState[] {
  let state = cusumStart();
  return Array.from(values, (value) => {
    state = cusumStep(state, value - target, allowance);
    return state;
  });
}
const firstAlarm = (states: readonly CusumState[], allowance: number, interval: number): number =>
  states.findIndex((state) => cusumSignal(state, allowance, interval) !== null) + 1;

const MONTGOMERY = [
  9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37, 10.62, 10.31,
  8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
];

describe('cusumStep: Montgomery, Introduction to Statistical Quality Control, 7th ed., 9.1.1, Table 9.2 (μ0 10, K 0.5, H 5)', () => {
  const states = run(MONTGOMERY, 10, 0.5);
  test('C⁺ is the printed column, all 30 values', () => {
    expectAllWithin(
      states.map((s) => s.hi),
      [
        0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89,
        3.47, 3.35, 4.47, 5.28, 5.3,
      ],
      1e-9,
    );
  });
  test('C⁻ is the printed column, all 30 values', () => {
    expectAllWithin(
      states.map((s) => s.lo),
      [
        0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0, 0.13, 0, 0, 0.98, 0, 0, 0.17, 0, 0, 0, 0, 0, 0,
        0, 0,
      ],
      1e-9,
    );
  });
  test('the first alarm is at sample 29, and the change came after sample 22', () => {
    expect(firstAlarm(states, 0.5, 5)).toBe(29);
    expect(states[28]!.nHi).toBe(7);
    expect(29 - cusumSignal(states[28]!, 0.5, 5)!.stepsSinceChange).toBe(22);
  });
  test('the new mean is estimated as 11.25', () => {
    expectWithin(10 + cusumSignal(states[28]!, 0.5, 5)!.shift, 11.25, 0.005);
  });
});

const NIST_MEANS = [
  324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
  327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
];

describe('cusumStep: NIST/SEMATECH e-Handbook 6.3.2.3 (data from memory, unverified; k 0.3175, h 4.1959)', () => {
  const states = run(NIST_MEANS, 325, 0.3175);
  test('S_hi is the column of the handbook, alarm at 14', () => {
    expectAllWithin(
      states.map((s) => s.hi),
      [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035],
      1e-9,
    );
    expect(firstAlarm(states, 0.3175, 4.1959)).toBe(14);
  });
  test('S_lo is the column of the handbook', () => {
    expectAllWithin(
      states.map((s) => s.lo),
      [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0, 0, 0, 0, 0, 0, 0, 0],
      1e-9,
    );
  });
  test('without an allowance the two sums differ as the plain sum of deviations does, ending at 19.075', () => {
    expectWithin(NIST_MEANS.length * (mean(NIST_MEANS) - 325), 19.075, 1e-9);
  });
});

describe('cusumStep: Hawkins and Olwell, Cumulative Sum Charts and Charting for Quality Improvement, 2.2.4 (k 0.25, h 1.3467)', () => {
  const file = 'cusum-bolt-diameter-hawkins-olwell.csv';
  test.runIf(isPresent(file))('all 50 values of C⁺ agree to 6 decimals, first alarm at 49', () => {
    const columns = readColumns(file);
    const states = run(columns.get('sum_of_deviations_from_5')!, 0, 0.25);
    expectAllWithin(
      states.map((s) => s.hi),
      [...columns.get('expected_c_plus')!],
      5.1e-7,
    );
    const keyValues = [
      [17, 0.087849],
      [32, 0.443115],
      [40, 0.627845],
      [45, 1.148206],
      [48, 1.032842],
      [49, 1.632435],
      [50, 1.675285],
    ] as const;
    for (const [sample, hi] of keyValues) expectWithin(states[sample - 1]!.hi, hi, 5.1e-7);
    expect(states.slice(0, 16).every((s) => s.hi === 0)).toBe(true);
    expect(states.findIndex((s) => s.hi > 1.3467) + 1).toBe(49);
  });
  test('from 48 to 49 and 50 the printed sums follow from the deviations they imply', () => {
    // Steps within one climb are reversible: deviation = rise + allowance.
    let state: CusumState = { hi: 1.032842, lo: 0, nHi: 5, nLo: 0 };
    for (const [deviation, hi] of [
      [1.632435 - 1.032842 + 0.25, 1.632435],
      [1.675285 - 1.632435 + 0.25, 1.675285],
    ] as const) {
      expect(cusumSignal(state, 0.25, 1.3467) === null).toBe(state.hi < 1.3467);
      state = cusumStep(state, deviation, 0.25);
      expectWithin(state.hi, hi, 5e-7);
    }
    expect(cusumSignal(state, 0.25, 1.3467)?.side).toBe('high');
  });
});
