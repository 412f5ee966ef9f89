export interface LoadBankReading {
  /** The unit's own figure, % of its rating. */
  readonly loadPct: number;
  /** W, above 0. */
  readonly ratedW: number;
}

export interface LoadBankCheck {
  /** What the units say in all, W. */
  readonly sumW: number;
  /** Sum less load bank, % of the load bank. */
  readonly deviationPct: number;
  readonly agrees: boolean;
}

/**
 * Compares what the units read with a known load: does the set measure right?
 *
 * @param readings      load, % of rating, and rating, W, of every unit; at least one; NaN is refused
 * @param loadBankW     known load, W, above 0
 * @param tolerancePct  largest deviation that agrees, % of the load bank; 5 where absent (common practice)
 * @returns sum, W, and deviation, %
 * @throws RangeError  if there is no reading, a figure is not finite, or a rating or the load is not above 0
 * @see derived: Σ load_pct·P_rated/100 against the load bank; the 5 % is common practice
 */
export function loadBankCheck(
  readings: readonly LoadBankReading[],
  loadBankW: number,
  tolerancePct = 5,
): LoadBankCheck {
  if (readings.length === 0) throw new RangeError('Cannot check against a load bank: needs at least 1 unit');
  if (!(loadBankW > 0 && Number.isFinite(loadBankW)))
    throw new RangeError(`Cannot check against a load bank: load ${loadBankW} W is not above 0`);
  let sumW = 0;
  for (const { loadPct, ratedW } of readings) {
    if (!Number.isFinite(loadPct))
      throw new RangeError(`Cannot check against a load bank: load ${loadPct} % is not a finite number`);
    if (!(ratedW > 0 && Number.isFinite(ratedW)))
      throw new RangeError(`Cannot check against a load bank: rating ${ratedW} W is not above 0`);
    sumW += (loadPct * ratedW) / 100;
  }
  const deviationPct = (100 * (sumW - loadBankW)) / loadBankW;
  return { sumW, deviationPct, agrees: Math.abs(deviationPct) <= tolerancePct };
}
