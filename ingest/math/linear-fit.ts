import { mean } from './mean.ts';
import { requireFinitePairs } from './require-finite.ts';

export interface LinearFit {
  readonly count: number;
  readonly slope: number;
  readonly intercept: number;
  /** Standard error of the slope; NaN with two points, where nothing is left to judge the scatter by. */
  readonly slopeError: number;
  readonly interceptError: number;
  /** √(RSS / (n − 2)), in the unit of y; NaN with two points. */
  readonly residualSd: number;
  /** Share of the variance of y that the line explains; NaN where all y are equal. */
  readonly rSquared: number;
  /** Regression and residual sum of squares, in the unit of y squared. */
  readonly regressionSquares: number;
  readonly residualSquares: number;
}

/**
 * Line through points by ordinary least squares, with standard errors. Errors lie in y alone.
 *
 * @param x  known values, any unit
 * @param y  measured values, any unit, same length; at least two points; NaN is refused
 * @returns the fit; slope in y per x. null where all x are equal, because no slope can be told
 * @throws RangeError  if the lengths differ, there are fewer than two points, or a value is NaN or an infinity
 * @see derived: normal equations in deviations from the means, as in any textbook on regression
 */
export function linearFit(x: ArrayLike<number>, y: ArrayLike<number>): LinearFit | null {
  requireFinitePairs(x, y, 2, 'fit a line');
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
  if (sxx === 0) return null;
  const slope = sxy / sxx;
  // From the residuals themselves: syy − slope·sxy cancels to nothing on a good fit.
  let residualSquares = 0;
  for (let i = 0; i < count; i++) residualSquares += (y[i]! - yMean - slope * (x[i]! - xMean)) ** 2;
  const residualSd = count > 2 ? Math.sqrt(residualSquares / (count - 2)) : Number.NaN;
  return {
    count,
    slope,
    intercept: yMean - slope * xMean,
    slopeError: residualSd / Math.sqrt(sxx),
    interceptError: residualSd * Math.sqrt(1 / count + (xMean * xMean) / sxx),
    residualSd,
    rSquared: syy === 0 ? Number.NaN : 1 - residualSquares / syy,
    regressionSquares: slope * sxy,
    residualSquares,
  };
}
