import { median, medianSorted } from './median.ts';
import { requireFinitePairs } from './require-finite.ts';

/** All pairs are formed: 4000 points are 8 million slopes, 64 MB. Thin longer series first. */
export const THEIL_SEN_POINTS_MAX = 4000;

export interface TheilSenLine {
  readonly slope: number;
  readonly intercept: number;
}

/**
 * Median of the slopes of all pairs of points: a trend that a few wild values do not move.
 *
 * @param x  places or times, any unit; gaps are simply absent points; pairs at one x are passed over
 * @param y  values, any unit, same length; NaN is refused
 * @returns slope in y per x, and intercept = median y − slope·median x. null where all x are equal
 * @throws RangeError  if the lengths differ, there are fewer than two or more than 4000 points, or a value is NaN or an infinity
 * @see P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63, 1968, p. 1379; intercept after W. J. Conover (from memory, unverified)
 */
export function theilSen(x: ArrayLike<number>, y: ArrayLike<number>): TheilSenLine | null {
  requireFinitePairs(x, y, 2, 'take a median slope');
  const count = x.length;
  if (count > THEIL_SEN_POINTS_MAX) {
    throw new RangeError(`Cannot take a median slope: ${count} points, at most ${THEIL_SEN_POINTS_MAX}`);
  }
  const slopes = new Float64Array((count * (count - 1)) / 2);
  let pairs = 0;
  for (let i = 0; i < count; i++) {
    for (let j = i + 1; j < count; j++) {
      const dx = x[j]! - x[i]!;
      if (dx !== 0) slopes[pairs++] = (y[j]! - y[i]!) / dx;
    }
  }
  if (pairs === 0) return null;
  const slope = medianSorted(slopes.subarray(0, pairs).sort());
  return { slope, intercept: median(y) - slope * median(x) };
}
