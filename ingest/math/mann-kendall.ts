import { normalCdf } from './normal.ts';
import { requireFinite } from './require-finite.ts';

/** All pairs are compared: 20 000 values are 200 million comparisons, about a second. */
export const MANN_KENDALL_VALUES_MAX = 20_000;

export interface MannKendall {
  readonly count: number;
  /** Pairs that rise less pairs that fall. */
  readonly s: number;
  /** Variance of s without a trend, with ties allowed for. */
  readonly variance: number;
  /** Normal score with continuity correction; 0 where s is 0. */
  readonly z: number;
  /** Two-sided probability of a score at least as large without a trend. */
  readonly p: number;
  /** Kendall's tau-a: s over the number of pairs. */
  readonly tau: number;
  /** Kendall's tau-b, with ties allowed for; NaN where all values are equal. */
  readonly tauB: number;
}

/**
 * Tests for a trend that only ever rises or only ever falls, whatever its shape.
 *
 * @param values  in order of time, any unit; a gap is left out by the caller; NaN is refused; three to 20 000
 * @returns the test; p is too small where neighbours resemble each other (see hamedRao)
 * @throws RangeError  if there are fewer than three or more than 20 000 values, or one is NaN or an infinity
 * @see H. B. Mann, Econometrica 13, 1945, p. 245; ties as in EPA QA/G-9S, Data Quality Assessment: Statistical Methods for Practitioners, 2006
 */
export function mannKendall(values: ArrayLike<number>): MannKendall {
  requireFinite(values, 3, 'test for a trend');
  const count = values.length;
  if (count > MANN_KENDALL_VALUES_MAX) {
    throw new RangeError(`Cannot test for a trend: ${count} values, at most ${MANN_KENDALL_VALUES_MAX}`);
  }
  let s = 0;
  for (let i = 0; i < count; i++) {
    const value = values[i]!;
    for (let j = i + 1; j < count; j++) s += Math.sign(values[j]! - value);
  }
  const { variance, tiedPairs } = spreadOfScore(values);
  const pairs = (count * (count - 1)) / 2;
  return {
    count,
    s,
    variance,
    ...scoreOf(s, variance),
    tau: s / pairs,
    tauB: tiedPairs === pairs ? Number.NaN : s / Math.sqrt(pairs * (pairs - tiedPairs)),
  };
}

/**
 * Normal score of a Kendall sum, and its two-sided probability.
 *
 * @param s         pairs that rise less pairs that fall
 * @param variance  its variance without a trend; at least 0
 * @returns z, one nearer to 0 because s moves in steps, and p; 0 and 1 where s is 0
 * @see EPA QA/G-9S, 2006
 */
export function scoreOf(s: number, variance: number): { readonly z: number; readonly p: number } {
  if (s === 0) return { z: 0, p: 1 };
  const z = (s - Math.sign(s)) / Math.sqrt(variance);
  return { z, p: 2 * normalCdf(-Math.abs(z)) };
}

function spreadOfScore(values: ArrayLike<number>): { readonly variance: number; readonly tiedPairs: number } {
  const sorted = Float64Array.from(values).sort();
  const term = (n: number): number => n * (n - 1) * (2 * n + 5);
  let ties = 0;
  let tiedPairs = 0;
  for (let from = 0, to = 0; from < sorted.length; from = to) {
    while (to < sorted.length && sorted[to] === sorted[from]) to++;
    const tied = to - from;
    ties += term(tied);
    tiedPairs += (tied * (tied - 1)) / 2;
  }
  return { variance: (term(sorted.length) - ties) / 18, tiedPairs };
}
