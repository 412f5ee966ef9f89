import { requireFinite } from './require-finite.ts';

/**
 * Middle value; the mean of the two middle ones where the count is even.
 *
 * @param values  the sample, any unit; not written to; NaN is refused
 * @returns the median in the same unit
 * @throws RangeError  if the sample is empty or holds NaN or an infinity
 * @see derived: by definition
 */
export function median(values: ArrayLike<number>): number {
  requireFinite(values, 1, 'take a median');
  return medianSorted(Float64Array.from(values).sort());
}

/**
 * The same of values that are already in ascending order; not checked.
 *
 * @param sorted  ascending, any unit, at least one
 * @returns the median in the same unit
 * @see derived: by definition
 */
export function medianSorted(sorted: ArrayLike<number>): number {
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[half]! : (sorted[half - 1]! + sorted[half]!) / 2;
}
