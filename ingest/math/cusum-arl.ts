import { gaussLegendre } from './gauss-legendre.ts';
import { normalCdf, normalLogPdf } from './normal.ts';
import { solveLinear } from './solve-linear.ts';

/** A CUSUM of independent normal values; every figure in standard deviations of one value. */
export interface CusumDesign {
  /** Allowance, at least 0. */
  readonly k: number;
  /** Decision interval, above 0, at most 100. */
  readonly h: number;
  /** Shift of the mean toward the upper side; 0 where absent. */
  readonly shift?: number;
  /** Where the sums begin, 0…h; 0 where absent. */
  readonly headStart?: number;
}

/** Larger intervals would need a system of more than 600 equations. */
const INTERVAL_MAX = 100;

/**
 * Average run length of the upper CUSUM alone: values until it signals, on average. Exact to rounding.
 *
 * Solves the integral equation L(z) = 1 + L(0)·Φ(k − z − δ) + ∫₀ʰ L(y)·φ(y + k − z − δ) dy at Gauss–Legendre nodes.
 *
 * @param design  allowance, interval, shift δ and head start, in standard deviations; k may be 0, and δ negative
 * @returns values (not time); Infinity where it is too long for a double to tell (above about 1e12)
 * @throws RangeError  if k is not at least 0, h is not in 0…100, the head start is not in 0…h, or the shift is not finite
 * @see E. S. Page, Biometrika 41, 1954, p. 100 (the equation); D. Brook, D. A. Evans, Biometrika 59, 1972, p. 539 (the Markov chain that it refines)
 */
export function cusumArlOneSided(design: CusumDesign): number {
  const { k, h, shift = 0, headStart = 0 } = checked(design);
  // Six nodes a standard deviation leave an error below 1e-11 of the run length (compared with eighteen).
  const count = Math.max(24, Math.ceil(6 * h));
  const { nodes, weights } = gaussLegendre(count, 0, h);
  const n = count + 1;
  const from = (i: number): number => (i === 0 ? 0 : nodes[i - 1]!);
  const matrix = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    const towards = k - from(i) - shift;
    matrix[i * n] = -normalCdf(towards);
    for (let j = 1; j < n; j++) matrix[i * n + j] = -weights[j - 1]! * Math.exp(normalLogPdf(nodes[j - 1]! + towards));
    matrix[i * n + i]! += 1;
  }
  const arl = solveLinear(matrix, new Float64Array(n).fill(1));
  if (arl === null || !(arl[0]! >= 1 && arl[0]! < 1e12)) return Number.POSITIVE_INFINITY;
  if (headStart === 0) return arl[0]!;
  const towards = k - headStart - shift;
  let started = 1 + arl[0]! * normalCdf(towards);
  for (let j = 0; j < count; j++) started += weights[j]! * arl[j + 1]! * Math.exp(normalLogPdf(nodes[j]! + towards));
  return started;
}

/**
 * Average run length of both sums together: values until either signals, on average.
 *
 * @param design  as for one side; the head start holds for both sums
 * @returns values (not time); Infinity where neither side's can be told
 * @throws RangeError  as for one side
 * @see J. M. Lucas, R. B. Crosier, Technometrics 24(3), 1982, p. 199: from the one-sided lengths with and without head start
 */
export function cusumArlTwoSided(design: CusumDesign): number {
  const shift = design.shift ?? 0;
  const plain = { k: design.k, h: design.h };
  const up = cusumArlOneSided({ ...plain, shift });
  const down = cusumArlOneSided({ ...plain, shift: -shift });
  if ((design.headStart ?? 0) === 0) return 1 / (1 / up + 1 / down);
  const upStarted = cusumArlOneSided({ ...design, shift });
  const downStarted = cusumArlOneSided({ ...design, shift: -shift });
  // (L⁺(s)·L⁻ + L⁻(s)·L⁺ − L⁺·L⁻)/(L⁺ + L⁻), divided by L⁺·L⁻ so that one very long side does no harm.
  const lost = (started: number, whole: number): number => (whole === Number.POSITIVE_INFINITY ? 1 : started / whole);
  return (lost(upStarted, up) + lost(downStarted, down) - 1) / (1 / up + 1 / down);
}

/**
 * Siegmund's approximation of the one-sided average run length: a formula, good to about 3 %.
 *
 * @param design  allowance, interval and shift, in standard deviations; no head start
 * @returns values (not time)
 * @throws RangeError  as cusumArlOneSided
 * @see D. Siegmund, Sequential Analysis, 1985; as given in D. C. Montgomery, Introduction to Statistical Quality Control, section 9.1 (from memory, unverified)
 */
export function cusumArlSiegmund(design: Omit<CusumDesign, 'headStart'>): number {
  const { k, h, shift = 0 } = checked(design);
  const drift = shift - k;
  const b = h + 1.166;
  // Near zero drift the formula is 0/0; its limit is b².
  if (Math.abs(drift) * b < 1e-4) return b * b;
  return (Math.exp(-2 * drift * b) + 2 * drift * b - 1) / (2 * drift * drift);
}

/**
 * Decision interval of a two-sided CUSUM for a wanted average run length while all is well.
 *
 * @param k     allowance, in standard deviations, at least 0
 * @param arl0  wanted run length until a false alarm of either side, in values, 2…1e9
 * @returns decision interval h, in standard deviations, to 1e-9 of the run length; rounding leaves 1e-6 of it near 1e9
 * @throws RangeError  if k is not at least 0, arl0 is not in 2…1e9, or no interval up to 100 gives it
 * @see derived: the root of the two-sided run length, whose logarithm rises with h
 */
export function cusumThreshold(k: number, arl0: number): number {
  if (!(arl0 >= 2 && arl0 <= 1e9))
    throw new RangeError(`Cannot choose a decision interval: run length ${arl0} is not between 2 and 1e9`);
  // Without a shift both sides are equal, so together they run half as long as one.
  const excess = (h: number): number => Math.log(cusumArlOneSided({ k, h }) / 2 / arl0);
  let [low, high] = [1e-6, 1];
  let [excessLow, excessHigh] = [excess(low), excess(high)];
  if (excessLow > 0)
    throw new RangeError(`Cannot choose a decision interval: allowance ${k} alone gives more than run length ${arl0}`);
  while (excessHigh < 0) {
    if (high >= INTERVAL_MAX)
      throw new RangeError(
        `Cannot choose a decision interval: allowance ${k} needs more than ${INTERVAL_MAX} for run length ${arl0}`,
      );
    [low, excessLow] = [high, excessHigh];
    high = Math.min(high * 1.5, INTERVAL_MAX);
    excessHigh = excess(high);
  }
  // Regula falsi, Illinois variant: the logarithm is nearly straight in h, so a handful of steps suffice.
  let [h, excessAtH] = [high, excessHigh];
  for (let step = 0; step < 60 && Math.abs(excessAtH) > 1e-11; step++) {
    h = (low * excessHigh - high * excessLow) / (excessHigh - excessLow);
    const before = excessAtH;
    excessAtH = excess(h);
    const isSameSide = Math.sign(before) === Math.sign(excessAtH);
    if (excessAtH < 0) {
      [low, excessLow] = [h, excessAtH];
      if (isSameSide) excessHigh /= 2;
    } else {
      [high, excessHigh] = [h, excessAtH];
      if (isSameSide) excessLow /= 2;
    }
  }
  return h;
}

function checked(design: CusumDesign): CusumDesign {
  const { k, h, shift = 0, headStart = 0 } = design;
  if (!(k >= 0 && Number.isFinite(k)))
    throw new RangeError(`Cannot take a run length: allowance ${k} is not at least 0`);
  if (!(h > 0 && h <= INTERVAL_MAX))
    throw new RangeError(`Cannot take a run length: decision interval ${h} is not in 0…${INTERVAL_MAX}`);
  if (!Number.isFinite(shift)) throw new RangeError(`Cannot take a run length: shift ${shift} is not a finite number`);
  if (!(headStart >= 0 && headStart <= h))
    throw new RangeError(`Cannot take a run length: head start ${headStart} is not in 0…${h}`);
  return design;
}
