import { median, medianSorted } from './median.ts';

/** 1/Φ⁻¹(3/4): makes the median absolute deviation of a normal sample estimate its standard deviation. */
export const MAD_TO_SIGMA = 1.482602218505602;

/**
 * Median of the distances from the median: a spread that a few wild values do not move.
 *
 * @param values  the sample, any unit; NaN is refused
 * @returns the raw deviation in the same unit; times MAD_TO_SIGMA it estimates σ of a normal sample
 * @throws RangeError  if the sample is empty or holds NaN or an infinity
 * @see F. R. Hampel, "The influence curve and its role in robust estimation", JASA 69, 1974, p. 383 (from memory, unverified)
 */
export function medianAbsoluteDeviation(values: ArrayLike<number>): number {
  const centre = median(values);
  return medianSorted(Float64Array.from(values, (value) => Math.abs(value - centre)).sort());
}
