const HOUR_MS = 3_600_000;

export interface CoulombCount {
  /** Net charge, Ah; + = discharged. Over the covered time only. */
  readonly netAh: number;
  /** Its two parts, each at least 0: netAh = dischargedAh − chargedAh. */
  readonly dischargedAh: number;
  readonly chargedAh: number;
  /** Time that was integrated, and time that was not, ms. */
  readonly coveredMs: number;
  readonly gapMs: number;
}

/**
 * Charge through a battery by the trapezoidal rule. What lies in a gap is not guessed: it is left out, and its length is told.
 *
 * @param tMs       times, ms, ascending
 * @param currentA  one a time, A, + = discharging; NaN marks a gap and is skipped
 * @param gapMaxMs  neighbours farther apart than this, ms, have a gap between them; above 0
 * @returns charge, Ah, and times, ms; all 0 with fewer than two values
 * @throws RangeError  if the lengths differ, the times fall back, a current is infinite or gapMaxMs is not above 0
 * @see derived: ∫ i dt; K. Movassagh, A. Raihan, B. Balasingam, K. Pattipati, "A critical look at coulomb counting", Energies 14, 2021, on its errors
 */
export function coulombCount(tMs: ArrayLike<number>, currentA: ArrayLike<number>, gapMaxMs: number): CoulombCount {
  if (tMs.length !== currentA.length)
    throw new RangeError(`Cannot count charge: ${tMs.length} times but ${currentA.length} currents`);
  if (!(gapMaxMs > 0)) throw new RangeError(`Cannot count charge: longest step ${gapMaxMs} ms is not above 0`);
  let dischargedAms = 0;
  let chargedAms = 0;
  let coveredMs = 0;
  let gapMs = 0;
  let before = -1;
  for (let i = 0; i < tMs.length; i++) {
    const current = currentA[i]!;
    if (Number.isNaN(current)) continue;
    if (!Number.isFinite(current))
      throw new RangeError(`Cannot count charge: current ${current} A at index ${i} is not finite`);
    if (before >= 0) {
      const stepMs = tMs[i]! - tMs[before]!;
      if (!(stepMs >= 0))
        throw new RangeError(`Cannot count charge: time ${tMs[i]} ms at index ${i} lies before the one before it`);
      if (stepMs > gapMaxMs) gapMs += stepMs;
      else {
        const [out, back] = trapezoidParts(currentA[before]!, current, stepMs);
        dischargedAms += out;
        chargedAms += back;
        coveredMs += stepMs;
      }
    }
    before = i;
  }
  return {
    netAh: (dischargedAms - chargedAms) / HOUR_MS,
    dischargedAh: dischargedAms / HOUR_MS,
    chargedAh: chargedAms / HOUR_MS,
    coveredMs,
    gapMs,
  };
}

/** Positive and negative area under a straight line, cut where it crosses zero. */
function trapezoidParts(a: number, b: number, width: number): [number, number] {
  if (a >= 0 && b >= 0) return [((a + b) / 2) * width, 0];
  if (a <= 0 && b <= 0) return [0, (-(a + b) / 2) * width];
  const crossing = (width * a) / (a - b);
  const first = (Math.abs(a) * crossing) / 2;
  const second = (Math.abs(b) * (width - crossing)) / 2;
  return a > 0 ? [first, second] : [second, first];
}

/**
 * State of charge after a net discharge.
 *
 * @param socStartPct  before, %, 0…100
 * @param netAh        net charge taken out, Ah; negative = charged
 * @param capacityAh   usable capacity, Ah, above 0
 * @returns %, not cut at 0 and 100: a figure beyond them says that one of the three is wrong
 * @throws RangeError  if the start is not in 0…100, the charge is not finite or the capacity is not above 0
 * @see derived: SoC = SoC0 − 100·ΔAh/C
 */
export function socAfterPct(socStartPct: number, netAh: number, capacityAh: number): number {
  if (!(socStartPct >= 0 && socStartPct <= 100))
    throw new RangeError(`Cannot count state of charge: start ${socStartPct} % is not in 0…100`);
  if (!Number.isFinite(netAh))
    throw new RangeError(`Cannot count state of charge: charge ${netAh} Ah is not a finite number`);
  if (!(capacityAh > 0)) throw new RangeError(`Cannot count state of charge: capacity ${capacityAh} Ah is not above 0`);
  return socStartPct - (100 * netAh) / capacityAh;
}
