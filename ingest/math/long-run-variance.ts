export interface LongRunVariance {
  /** Values that are present. */
  readonly count: number;
  /** In the unit squared: what the variance would be if neighbours were independent and the mean as uncertain. */
  readonly variance: number;
  /** Lags that were used, 0 or more. */
  readonly bandwidth: number;
  /** √(variance / count), in the unit. */
  readonly meanError: number;
}

/**
 * Long-run variance of a series whose neighbours resemble each other: the honest standard error of its mean.
 *
 * Bartlett weights over a bandwidth chosen from the data. NaN marks a gap: lags are counted on the grid, so
 * values on the two sides of a gap are never taken for neighbours.
 *
 * @param values     on an even grid, in order of time, any unit; NaN is skipped
 * @param bandwidth  lags to use; chosen by the rule of Newey and West (1994) where absent
 * @returns the estimate, never negative; null with fewer than two values
 * @throws RangeError  if a value is infinite, or the bandwidth is not a whole number of at least 0
 * @see W. K. Newey, K. D. West, Econometrica 55, 1987, p. 703 and Review of Economic Studies 61, 1994, p. 631; gaps as
 *      D. D. Datta, W. Du, "Nonparametric HAC estimation for time series data with missing observations", 2012 (from memory, unverified)
 */
export function longRunVariance(values: ArrayLike<number>, bandwidth?: number): LongRunVariance | null {
  if (bandwidth !== undefined && (!Number.isInteger(bandwidth) || bandwidth < 0)) {
    throw new RangeError(`Cannot take a long-run variance: bandwidth ${bandwidth} is not a whole number of at least 0`);
  }
  const { deviations, count } = deviationsWithZeroGaps(values);
  if (count < 2) return null;
  const lags = Math.min(bandwidth ?? neweyWestBandwidth(deviations, count), values.length - 1);
  let variance = autocovariance(deviations, 0, count);
  for (let lag = 1; lag <= lags; lag++) {
    variance += 2 * (1 - lag / (lags + 1)) * autocovariance(deviations, lag, count);
  }
  // The weights make it non-negative; only rounding can take it below.
  variance = Math.max(0, variance);
  return { count, variance, bandwidth: lags, meanError: Math.sqrt(variance / count) };
}

/** A gap becomes a deviation of 0, so it adds to no product. */
function deviationsWithZeroGaps(values: ArrayLike<number>): {
  readonly deviations: Float64Array;
  readonly count: number;
} {
  let total = 0;
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    if (!Number.isFinite(value))
      throw new RangeError(`Cannot take a long-run variance: value ${value} at index ${i} is not finite`);
    total += value;
    count++;
  }
  const centre = total / count;
  return { deviations: Float64Array.from(values, (value) => (Number.isNaN(value) ? 0 : value - centre)), count };
}

function autocovariance(deviations: Float64Array, lag: number, count: number): number {
  let products = 0;
  for (let i = lag; i < deviations.length; i++) products += deviations[i]! * deviations[i - lag]!;
  return products / count;
}

/** Newey and West (1994), Bartlett kernel: pilot lags ⌊4(n/100)^(2/9)⌋, then ⌊1.1447·((s1/s0)²·n)^(1/3)⌋. */
function neweyWestBandwidth(deviations: Float64Array, count: number): number {
  const pilot = Math.min(Math.floor(4 * (count / 100) ** (2 / 9)), deviations.length - 1);
  let s0 = autocovariance(deviations, 0, count);
  let s1 = 0;
  for (let lag = 1; lag <= pilot; lag++) {
    const covariance = autocovariance(deviations, lag, count);
    s0 += 2 * covariance;
    s1 += 2 * lag * covariance;
  }
  // An alternating series can take the pilot sum to nothing; then the ratio says nothing and the pilot itself is used.
  if (!(s0 > 0)) return pilot;
  return Math.min(Math.floor(1.1447 * Math.cbrt((s1 / s0) ** 2 * count)), count - 1);
}
