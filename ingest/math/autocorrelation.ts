/**
 * Correlation of a series with itself `lag` steps later.
 *
 * NaN marks a gap: a missing value enters neither the mean nor any product, and never joins its neighbours.
 *
 * @param values  on an even grid, in order of time, any unit; NaN is skipped
 * @param lag     steps, whole, at least 0
 * @returns −1…1, with the one mean and the whole sum of squares in the denominator, so that it shrinks with gaps
 *          as it does at the ends; NaN with fewer than two values or where all are equal
 * @throws RangeError  if the lag is not a whole number of at least 0
 * @see G. E. P. Box, G. M. Jenkins, Time Series Analysis, 1970, section 2.1 (from memory, unverified)
 */
export function autocorrelation(values: ArrayLike<number>, lag = 1): number {
  if (!Number.isInteger(lag) || lag < 0)
    throw new RangeError(`Cannot take an autocorrelation: lag ${lag} is not a whole number of at least 0`);
  let total = 0;
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i])) continue;
    total += values[i]!;
    count++;
  }
  if (count < 2) return Number.NaN;
  const centre = total / count;
  let squares = 0;
  let products = 0;
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i])) continue;
    const deviation = values[i]! - centre;
    squares += deviation * deviation;
    const later = i + lag < values.length ? values[i + lag]! : Number.NaN;
    if (!Number.isNaN(later)) products += deviation * (later - centre);
  }
  return squares === 0 ? Number.NaN : products / squares;
}
