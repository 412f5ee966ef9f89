const SQRT_2_PI = 2.5066282746310002;
const LOG_SQRT_2_PI = 0.9189385332046728;

/**
 * Probability that a standard normal value is at most z. Relative accuracy holds in the lower tail too.
 *
 * @param z  score, in standard deviations; infinities are allowed
 * @returns 0…1
 * @throws RangeError  if z is NaN
 * @see M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.2.11 (series) and 26.2.14 (continued fraction) (from memory, unverified)
 */
export function normalCdf(z: number): number {
  if (Number.isNaN(z)) throw new RangeError('Cannot take a normal probability: score is NaN');
  if (z < -3) return lowerTail(-z);
  if (z > 3) return 1 - lowerTail(z);
  let term = z;
  let total = z;
  for (let k = 3; Math.abs(term) > 1e-18 * Math.abs(total); k += 2) {
    term *= (z * z) / k;
    total += term;
  }
  return 0.5 + total * (Math.exp((-z * z) / 2) / SQRT_2_PI);
}

/** P(Z < −z) for z > 3 by the continued fraction, evaluated from the far end. */
function lowerTail(z: number): number {
  let fraction = 0;
  for (let k = 80; k >= 1; k--) fraction = k / (z + fraction);
  return Math.exp((-z * z) / 2) / SQRT_2_PI / (z + fraction);
}

/**
 * Score below which a standard normal value lies with probability p.
 *
 * @param p  probability, 0…1; 0 and 1 give the infinities
 * @returns score, in standard deviations
 * @throws RangeError  if p is not in 0…1
 * @see M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.2.23 (first guess, from memory, unverified); derived: Halley's steps on normalCdf
 */
export function normalQuantile(p: number): number {
  if (!(p >= 0 && p <= 1))
    throw new RangeError(`Cannot take a normal quantile: probability ${p} is not between 0 and 1`);
  if (p === 0.5) return 0;
  // The lower tail keeps its relative accuracy, the upper does not.
  if (p > 0.5) return -normalQuantile(1 - p);
  if (p === 0) return Number.NEGATIVE_INFINITY;
  const t = Math.sqrt(-2 * Math.log(p));
  let z = (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308))) - t;
  for (let step = 0; step < 3; step++) {
    const error = ((normalCdf(z) - p) / Math.exp((-z * z) / 2)) * SQRT_2_PI;
    z -= error / (1 + (z * error) / 2);
  }
  return z;
}

/**
 * Logarithm of the normal density.
 *
 * @param x     value, any unit
 * @param mean  centre, same unit
 * @param sd    standard deviation, same unit, above 0
 * @returns log density, per unit
 * @throws RangeError  if x or mean is not finite, or sd is not above 0
 * @see derived: −½((x − mean)/sd)² − log(sd·√(2π))
 */
export function normalLogPdf(x: number, mean = 0, sd = 1): number {
  if (!Number.isFinite(x) || !Number.isFinite(mean))
    throw new RangeError(`Cannot take a normal density: value ${x} or mean ${mean} is not finite`);
  if (!(sd > 0 && Number.isFinite(sd)))
    throw new RangeError(`Cannot take a normal density: standard deviation ${sd} is not above 0`);
  const score = (x - mean) / sd;
  return -0.5 * score * score - Math.log(sd) - LOG_SQRT_2_PI;
}
