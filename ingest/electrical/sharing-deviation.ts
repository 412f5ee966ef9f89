/**
 * How far each unit is from its fair share, in points of its rating.
 *
 * @param powersW  active power of each unit, W; length n ≥ 1; NaN is refused
 * @param ratedW   rating of each, W, above 0; length n
 * @returns ΔP_k = 100·(P_k/P_rated,k − ΣP/ΣP_rated), % of the rating; the denominator is the rating and not the mean load
 * @throws RangeError  if the lengths differ, there is no unit, a power is not finite or a rating is not above 0
 * @see ISO 8528-5, 13.1 (from memory, unverified)
 */
export function sharingDeviationPct(powersW: readonly number[], ratedW: readonly number[]): number[] {
  if (powersW.length !== ratedW.length)
    throw new RangeError(`Cannot take a sharing deviation: ${powersW.length} powers but ${ratedW.length} ratings`);
  if (powersW.length === 0) throw new RangeError('Cannot take a sharing deviation: needs at least 1 unit');
  let totalW = 0;
  let totalRatedW = 0;
  for (const [k, power] of powersW.entries()) {
    const rated = ratedW[k]!;
    if (!Number.isFinite(power))
      throw new RangeError(`Cannot take a sharing deviation: power ${power} W is not a finite number`);
    if (!(rated > 0 && Number.isFinite(rated)))
      throw new RangeError(`Cannot take a sharing deviation: rating ${rated} W is not above 0`);
    totalW += power;
    totalRatedW += rated;
  }
  return powersW.map((power, k) => 100 * (power / ratedW[k]! - totalW / totalRatedW));
}
