import { autocorrelation } from './autocorrelation.ts';
import { type MannKendall, mannKendall, scoreOf } from './mann-kendall.ts';
import { normalQuantile } from './normal.ts';
import { ranks } from './ranks.ts';

/** The correction compares every value with every other at every lag. */
export const HAMED_RAO_VALUES_MAX = 4000;

/**
 * The Mann–Kendall test with its variance corrected for values that resemble their neighbours.
 *
 * Autocorrelations of the ranks of the detrended values enter where they are significant at 5 %.
 *
 * @param values        in order of time, any unit; NaN is refused; three to 4000
 * @param slopePerStep  slope that is taken out first, in the unit a step: usually theilSen's
 * @returns the corrected test. null where the correction leaves no variance (strongly alternating values): no answer can be given
 * @throws RangeError  if there are fewer than three or more than 4000 values, or one is NaN or an infinity
 * @see K. H. Hamed, A. R. Rao, "A modified Mann–Kendall trend test for autocorrelated data", Journal of Hydrology 204, 1998, p. 182 (from memory, unverified)
 */
export function hamedRao(values: ArrayLike<number>, slopePerStep: number): MannKendall | null {
  if (values.length > HAMED_RAO_VALUES_MAX) {
    throw new RangeError(`Cannot correct a trend test: ${values.length} values, at most ${HAMED_RAO_VALUES_MAX}`);
  }
  const plain = mannKendall(values);
  const n = plain.count;
  const detrended = ranks(Float64Array.from(values, (value, i) => value - slopePerStep * i));
  const significant = normalQuantile(0.975) / Math.sqrt(n);
  let excess = 0;
  for (let lag = 1; lag < n; lag++) {
    const r = autocorrelation(detrended, lag);
    if (Math.abs(r) > significant) excess += (n - lag) * (n - lag - 1) * (n - lag - 2) * r;
  }
  const variance = plain.variance * (1 + (2 * excess) / (n * (n - 1) * (n - 2)));
  return variance > 0 ? { ...plain, variance, ...scoreOf(plain.s, variance) } : null;
}
