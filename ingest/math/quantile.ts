import { requireFinite } from './require-finite.ts';

/**
 * The value below which a share p of the sample lies, by linear interpolation between order statistics (definition 7).
 *
 * @param values  the sample, any unit; not written to; NaN is refused
 * @param p       share, 0…1
 * @returns the quantile in the same unit
 * @throws RangeError  if the sample is empty or holds NaN or an infinity, or p is not in 0…1
 * @see R. J. Hyndman, Y. Fan, "Sample quantiles in statistical packages", The American Statistician 50(4), 1996, p. 361, definition 7 (from memory, unverified)
 */
export function quantile(values: ArrayLike<number>, p: number): number {
  requireFinite(values, 1, 'take a quantile');
  return quantileSorted(Float64Array.from(values).sort(), p);
}

/**
 * The same of values that are already in ascending order; the order is not checked.
 *
 * @param sorted  ascending, any unit, at least one
 * @param p       share, 0…1
 * @returns the quantile in the same unit
 * @throws RangeError  if p is not in 0…1
 * @see quantile
 */
export function quantileSorted(sorted: ArrayLike<number>, p: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`Cannot take a quantile: share ${p} is not between 0 and 1`);
  const place = (sorted.length - 1) * p;
  const below = Math.floor(place);
  const low = sorted[below]!;
  const high = sorted[Math.min(below + 1, sorted.length - 1)]!;
  return low + (place - below) * (high - low);
}
