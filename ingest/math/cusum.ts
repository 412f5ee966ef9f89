/** Both sums of a tabular CUSUM. Plain JSON, so that it can be kept after each day. */
export interface CusumState {
  /** Upper and lower sum, at least 0, in the unit of the deviations. */
  readonly hi: number;
  readonly lo: number;
  /** Steps since each sum was last at zero. */
  readonly nHi: number;
  readonly nLo: number;
}

/**
 * A CUSUM before its first value.
 *
 * @param headStart  where both sums begin, in the unit of the deviations, at least 0; half the decision interval finds
 *                   a fault that is there from the start sooner
 * @returns the state
 * @throws RangeError  if the head start is not at least 0
 * @see J. M. Lucas, R. B. Crosier, "Fast initial response for CUSUM quality-control schemes", Technometrics 24(3), 1982, p. 199
 */
export function cusumStart(headStart = 0): CusumState {
  if (!(headStart >= 0 && Number.isFinite(headStart)))
    throw new RangeError(`Cannot start a CUSUM: head start ${headStart} is not at least 0`);
  return { hi: headStart, lo: headStart, nHi: 0, nLo: 0 };
}

/**
 * Takes one deviation into both sums.
 *
 * @param state      the state before; not written to
 * @param deviation  value less target, any unit; NaN is refused: a missing value is no step, so leave it out
 * @param allowance  half the shift to be found, same unit, at least 0
 * @returns the state after
 * @throws RangeError  if the deviation is not finite or the allowance is not at least 0
 * @see E. S. Page, "Continuous inspection schemes", Biometrika 41, 1954, p. 100; D. C. Montgomery, Introduction to Statistical Quality Control, 7th ed., section 9.1
 */
export function cusumStep(state: CusumState, deviation: number, allowance: number): CusumState {
  if (!Number.isFinite(deviation))
    throw new RangeError(`Cannot step a CUSUM: deviation ${deviation} is not a finite number`);
  if (!(allowance >= 0)) throw new RangeError(`Cannot step a CUSUM: allowance ${allowance} is not at least 0`);
  const hi = Math.max(0, state.hi + deviation - allowance);
  const lo = Math.max(0, state.lo - deviation - allowance);
  return { hi, lo, nHi: hi > 0 ? state.nHi + 1 : 0, nLo: lo > 0 ? state.nLo + 1 : 0 };
}

export interface CusumSignal {
  readonly side: 'high' | 'low';
  /** The change began after the value so many steps back: the sum was last at zero there. */
  readonly stepsSinceChange: number;
  /** Estimated deviation since then, signed, same unit. */
  readonly shift: number;
}

/**
 * Says whether a sum has passed the decision interval, and since when the level has probably been off.
 *
 * @param state             the state after a step
 * @param allowance         as given to the steps, same unit
 * @param decisionInterval  limit of the sums, same unit, above 0
 * @returns the signal of the larger sum, or null while both are within; after a head start the shift is an overestimate
 * @throws RangeError  if the decision interval is not above 0
 * @see D. C. Montgomery, Introduction to Statistical Quality Control, 7th ed., section 9.1: μ0 + K + C⁺/N⁺
 */
export function cusumSignal(state: CusumState, allowance: number, decisionInterval: number): CusumSignal | null {
  if (!(decisionInterval > 0))
    throw new RangeError(`Cannot judge a CUSUM: decision interval ${decisionInterval} is not above 0`);
  if (state.hi > decisionInterval && state.hi >= state.lo) {
    return { side: 'high', stepsSinceChange: state.nHi, shift: allowance + state.hi / Math.max(1, state.nHi) };
  }
  if (state.lo > decisionInterval) {
    return { side: 'low', stepsSinceChange: state.nLo, shift: -(allowance + state.lo / Math.max(1, state.nLo)) };
  }
  return null;
}
