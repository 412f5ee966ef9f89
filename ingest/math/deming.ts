import { mean } from './mean.ts';
import { requireFinitePairs } from './require-finite.ts';

export interface DemingFit {
  readonly count: number;
  readonly slope: number;
  readonly intercept: number;
  /** Standard error of the slope by leaving out one point at a time; NaN with fewer than three points. */
  readonly slopeError: number;
}

/**
 * Line through points that have errors in both variables: capacity from ampere-hours and states of charge, say,
 * where ordinary least squares is biased low.
 *
 * @param x      measured values, any unit
 * @param y      measured values, any unit, same length; at least two points; NaN is refused
 * @param delta  error variance of y divided by that of x, in (unit of y / unit of x)²; above 0; 1 is the orthogonal line
 * @returns the fit; slope in y per x. null where the points show no direction (no covariance)
 * @throws RangeError  if the lengths differ, there are fewer than two points, a value is NaN or an infinity, or delta is not above 0
 * @see W. E. Deming, Statistical Adjustment of Data, 1943; standard error as K. Linnet, Statistics in Medicine 9, 1990, p. 1463 (from memory, unverified)
 */
export function deming(x: ArrayLike<number>, y: ArrayLike<number>, delta: number): DemingFit | null {
  requireFinitePairs(x, y, 2, 'fit a line with errors in both variables');
  if (!(delta > 0 && Number.isFinite(delta))) {
    throw new RangeError(`Cannot fit a line with errors in both variables: ratio of variances ${delta} is not above 0`);
  }
  const count = x.length;
  const xMean = mean(x);
  const yMean = mean(y);
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < count; i++) {
    const dx = x[i]! - xMean;
    const dy = y[i]! - yMean;
    sxx += dx * dx;
    sxy += dx * dy;
    syy += dy * dy;
  }
  const slope = slopeOf(sxx, sxy, syy, delta);
  if (Number.isNaN(slope)) return null;
  const without = new Float64Array(count);
  // Leaving out point i takes n/(n − 1)·(its product of deviations) from each sum.
  const share = count / (count - 1);
  for (let i = 0; i < count; i++) {
    const dx = x[i]! - xMean;
    const dy = y[i]! - yMean;
    without[i] = slopeOf(sxx - share * dx * dx, sxy - share * dx * dy, syy - share * dy * dy, delta);
  }
  return { count, slope, intercept: yMean - slope * xMean, slopeError: jackknifeError(without) };
}

function slopeOf(sxx: number, sxy: number, syy: number, delta: number): number {
  if (sxy === 0) return Number.NaN;
  const difference = syy - delta * sxx;
  const root = Math.hypot(difference, 2 * Math.sqrt(delta) * sxy);
  // Two forms of one root: each is used where it adds and does not cancel.
  return difference >= 0 ? (difference + root) / (2 * sxy) : (2 * delta * sxy) / (root - difference);
}

function jackknifeError(without: Float64Array): number {
  const count = without.length;
  if (count < 3 || without.some(Number.isNaN)) return Number.NaN;
  const centre = mean(without);
  let squares = 0;
  for (const slope of without) squares += (slope - centre) ** 2;
  return Math.sqrt(((count - 1) / count) * squares);
}
