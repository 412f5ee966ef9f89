import { mean } from './mean.ts';
import { requireFinite } from './require-finite.ts';

export interface ChangePoint {
  /** Place of the first value of the new level; so many values lie before the break. */
  readonly index: number;
  readonly meanBefore: number;
  readonly meanAfter: number;
  /** Sum of squares left with the break, in the unit squared. */
  readonly residualSquares: number;
  /** Sum of squares about one mean, for comparison. */
  readonly totalSquares: number;
}

/**
 * The one break in level that leaves the least sum of squares.
 *
 * It always finds a best place; whether there is a break at all is another question (compare the two sums).
 *
 * @param values    in order of time, any unit; NaN is refused
 * @param shortest  fewest values on either side, whole, at least 1
 * @returns the break; the earliest of equally good ones
 * @throws RangeError  if there are fewer than 2·shortest values, one is NaN or an infinity, or shortest is not a whole number of at least 1
 * @see derived: least squares of two means; a break after m values takes S²·n/(m·(n − m)) off the sum of squares, S the sum of the first m deviations
 */
export function changePoint(values: ArrayLike<number>, shortest = 1): ChangePoint {
  if (!Number.isInteger(shortest) || shortest < 1) {
    throw new RangeError(`Cannot find a break: shortest piece ${shortest} is not a whole number of at least 1`);
  }
  requireFinite(values, 2 * shortest, 'find a break');
  const series = Float64Array.from(values);
  const n = series.length;
  const centre = mean(series);
  let before = 0;
  let index = shortest;
  let gainMax = -1;
  for (let m = 1; m <= n - shortest; m++) {
    before += series[m - 1]! - centre;
    const gain = (before * before * n) / (m * (n - m));
    if (m >= shortest && gain > gainMax) {
      gainMax = gain;
      index = m;
    }
  }
  const [left, right] = [series.subarray(0, index), series.subarray(index)];
  const [meanBefore, meanAfter] = [mean(left), mean(right)];
  return {
    index,
    meanBefore,
    meanAfter,
    // From the residuals themselves: total less gain cancels to nothing at a clean step.
    residualSquares: squaresAbout(left, meanBefore) + squaresAbout(right, meanAfter),
    totalSquares: squaresAbout(series, centre),
  };
}

function squaresAbout(values: Float64Array, centre: number): number {
  let squares = 0;
  for (const value of values) squares += (value - centre) ** 2;
  return squares;
}
