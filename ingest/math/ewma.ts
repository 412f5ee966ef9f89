/**
 * Exponentially weighted moving average, one step.
 *
 * @param average  the average before, any unit
 * @param value    the new value, same unit; NaN is refused: a missing value is no step, so leave it out
 * @param lambda   weight of the new value, above 0, at most 1
 * @returns the average after
 * @throws RangeError  if average or value is not finite, or lambda is not in 0…1
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4
 */
export function ewmaStep(average: number, value: number, lambda: number): number {
  if (!Number.isFinite(average) || !Number.isFinite(value)) {
    throw new RangeError(`Cannot step a moving average: average ${average} or value ${value} is not a finite number`);
  }
  requireLambda(lambda);
  return lambda * value + (1 - lambda) * average;
}

/**
 * How far the average may lie from the target: half the width of the control band.
 *
 * @param sd      standard deviation of one value, any unit, above 0
 * @param lambda  weight of the new value, above 0, at most 1
 * @param width   width in standard deviations of the average, above 0; usually 3
 * @param steps   values taken so far, whole, at least 1; the final width where absent
 * @returns half width, in the unit of sd
 * @throws RangeError  if an argument is out of its range
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4; early steps as J. M. Lucas, M. S. Saccucci, Technometrics 32, 1990, p. 1 (from memory, unverified)
 */
export function ewmaHalfWidth(sd: number, lambda: number, width: number, steps = Number.POSITIVE_INFINITY): number {
  requireLambda(lambda);
  if (!(sd > 0) || !(width > 0) || !(steps >= 1)) {
    throw new RangeError(`Cannot place control limits: sd ${sd}, width ${width} and steps ${steps} must be above 0`);
  }
  return width * sd * Math.sqrt((lambda / (2 - lambda)) * (1 - (1 - lambda) ** (2 * steps)));
}

function requireLambda(lambda: number): void {
  if (!(lambda > 0 && lambda <= 1))
    throw new RangeError(`Cannot weigh a moving average: weight ${lambda} is not above 0 and at most 1`);
}
