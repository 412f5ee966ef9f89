import { requireFinitePairs } from './require-finite.ts';

export interface LineThroughOrigin {
  readonly count: number;
  readonly slope: number;
  /** Standard error of the slope; NaN with one point. */
  readonly slopeError: number;
  /** √(RSS / (n − 1)), in the unit of y; NaN with one point. */
  readonly residualSd: number;
  /** 1 − RSS/Σy²: about zero and not about the mean, because the line has no intercept. NaN where all y are 0. */
  readonly rSquared: number;
}

/**
 * Line y = slope·x by least squares: a resistance from currents and voltage drops, say.
 *
 * @param x  known values, any unit
 * @param y  measured values, any unit, same length; at least one point; NaN is refused
 * @returns the fit; slope in y per x. null where all x are 0
 * @throws RangeError  if the lengths differ, there is no point, or a value is NaN or an infinity
 * @see derived: slope = Σxy / Σx², variance RSS/(n − 1)/Σx²
 */
export function lineThroughOrigin(x: ArrayLike<number>, y: ArrayLike<number>): LineThroughOrigin | null {
  requireFinitePairs(x, y, 1, 'fit a line through the origin');
  const count = x.length;
  let sxx = 0;
  let sxy = 0;
  let syy = 0;
  for (let i = 0; i < count; i++) {
    sxx += x[i]! * x[i]!;
    sxy += x[i]! * y[i]!;
    syy += y[i]! * y[i]!;
  }
  if (sxx === 0) return null;
  const slope = sxy / sxx;
  let residualSquares = 0;
  for (let i = 0; i < count; i++) residualSquares += (y[i]! - slope * x[i]!) ** 2;
  const residualSd = count > 1 ? Math.sqrt(residualSquares / (count - 1)) : Number.NaN;
  return {
    count,
    slope,
    slopeError: residualSd / Math.sqrt(sxx),
    residualSd,
    rSquared: syy === 0 ? Number.NaN : 1 - residualSquares / syy,
  };
}
