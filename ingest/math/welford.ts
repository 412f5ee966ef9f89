/** Count, mean and sum of squared deviations of all values so far. Plain JSON, so that it can be kept after each day. */
export interface RunningMoments {
  readonly count: number;
  readonly mean: number;
  /** Σ(x − mean)², in the unit squared. */
  readonly squares: number;
}

/** Nothing seen yet. */
export const NO_MOMENTS: RunningMoments = { count: 0, mean: 0, squares: 0 };

/**
 * Takes further values into a running mean and variance, without ever forming Σx².
 *
 * @param moments  what was seen before; not written to
 * @param values   further values, same unit; may be empty; NaN is refused
 * @returns the moments of all values
 * @throws RangeError  if a value is NaN or an infinity
 * @see B. P. Welford, "Note on a method for calculating corrected sums of squares and products", Technometrics 4(3), 1962, p. 419 (from memory, unverified)
 */
export function welford(moments: RunningMoments, values: ArrayLike<number>): RunningMoments {
  let { count, mean, squares } = moments;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isFinite(value))
      throw new RangeError(`Cannot update a running mean: value ${value} at index ${i} is not a finite number`);
    count++;
    const before = value - mean;
    mean += before / count;
    squares += before * (value - mean);
  }
  return { count, mean, squares };
}

/**
 * The moments of two samples taken together.
 *
 * @param a  moments of one sample
 * @param b  moments of another, same unit
 * @returns the moments of the union
 * @see T. F. Chan, G. H. Golub, R. J. LeVeque, "Updating formulae and a pairwise algorithm for computing sample variances", 1979 (from memory, unverified)
 */
export function mergeMoments(a: RunningMoments, b: RunningMoments): RunningMoments {
  if (a.count === 0) return b;
  if (b.count === 0) return a;
  const count = a.count + b.count;
  const step = b.mean - a.mean;
  return {
    count,
    mean: a.mean + (step * b.count) / count,
    squares: a.squares + b.squares + (step * step * a.count * b.count) / count,
  };
}

/**
 * Sample variance (n − 1) of what was seen.
 *
 * @param moments  running moments
 * @returns variance in the unit squared; NaN with fewer than two values, because nothing is known of the spread
 * @see derived: Σ(x − mean)² / (n − 1)
 */
export function sampleVariance(moments: RunningMoments): number {
  return moments.count < 2 ? Number.NaN : moments.squares / (moments.count - 1);
}
