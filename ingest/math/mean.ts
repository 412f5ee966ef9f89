import { requireFinite } from './require-finite.ts';
import { sum } from './sum.ts';

/**
 * Arithmetic mean, summed with correction, so that the order of the values hardly shows.
 *
 * @param values  the sample, any unit; at least one; NaN is refused
 * @returns the mean in the same unit
 * @throws RangeError  if the sample is empty or holds NaN or an infinity
 * @see derived: Σx / n
 */
export function mean(values: ArrayLike<number>): number {
  requireFinite(values, 1, 'take a mean');
  return sum(values) / values.length;
}
