/** The sequential test that every drift analyzer uses: CUSUM of log-likelihood ratios of a normal shift. */

export interface ShiftTest {
  /** The smallest shift that matters, in the unit of the deviations. */
  readonly shift: number;
  /** Threshold of the sum; see `llrThreshold`. */
  readonly threshold: number;
}

export interface Observation {
  /** Deviation from the baseline. */
  readonly deviation: number;
  /** Standard deviation of one observation. */
  readonly scatter: number;
  /** Long-run variance over variance, at least 1. */
  readonly inflation: number;
  /** Standard error of the baseline itself, which does not average out. */
  readonly baselineError: number;
}

/** No single observation brings more than this part of the threshold: a drift shows in several or is none. */
const STEP_MAX_PART = 0.26;
/** Of the baseline's own error this many standard errors are taken off. */
const BASELINE_ERRORS = 2;
/** A drift has ended when "as proven" is this many times likelier than "moved". */
export const END_THRESHOLD = Math.log(1e4);

const clamp = (value: number, limit: number): number => Math.max(-limit, Math.min(limit, value));

/** The next value of the sum that watches for a shift upwards; for downwards give the negative deviation. */
export function stepUp(
  sum: number,
  { deviation, scatter, inflation, baselineError }: Observation,
  { shift, threshold }: ShiftTest,
): number {
  const weight = shift / (scatter ** 2 * inflation);
  const beyond = shift / 2 + BASELINE_ERRORS * baselineError;
  return Math.max(0, sum + clamp(weight * (deviation - beyond), threshold * STEP_MAX_PART));
}

/** The next value of the sum that watches for a return; `deviation` is taken in the direction of the open drift. */
export function stepLevel(sum: number, { deviation, scatter, inflation }: Observation, shift: number): number {
  const weight = shift / (scatter ** 2 * inflation);
  return Math.max(0, sum + clamp(weight * (shift / 2 - deviation), END_THRESHOLD * STEP_MAX_PART));
}
