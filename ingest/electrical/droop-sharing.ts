/** A source whose frequency falls in a straight line with its active power. */
export interface DroopUnit {
  /** Frequency at no load, Hz. */
  readonly noLoadHz: number;
  /** Frequency at rated power, Hz; below noLoadHz. */
  readonly fullLoadHz: number;
  /** Rated power, W, above 0. */
  readonly ratedW: number;
}

export interface DroopShare {
  /** The one frequency of all, Hz. */
  readonly frequencyHz: number;
  /** Active power of each, W, in the order given; negative = it absorbs. */
  readonly powersW: readonly number[];
}

/**
 * Shares a load between droop-controlled units: f = f0_k − m_k·P_k, one f for all. Ratings do not limit it, so that an overload shows.
 *
 * @param units  no-load and full-load frequency, Hz, and rating, W; at least one
 * @param loadW  active power of the load, W; may be 0 or negative
 * @returns common frequency, Hz, and powers, W; their sum is loadW to rounding
 * @throws RangeError  if there is no unit, a figure is not finite, a rating is not above 0 or a frequency does not fall with load
 * @see derived: Σ (f0_k − f)/m_k = P, with m_k = (f0_k − f_full,k)/P_rated,k
 */
export function droopSharing(units: readonly DroopUnit[], loadW: number): DroopShare {
  if (units.length === 0) throw new RangeError('Cannot share a load by droop: needs at least 1 unit');
  if (!Number.isFinite(loadW))
    throw new RangeError(`Cannot share a load by droop: load ${loadW} W is not a finite number`);
  let stiffnessWPerHz = 0;
  let weightedW = 0;
  for (const unit of units) {
    const wPerHz = stiffnessOf(unit);
    stiffnessWPerHz += wPerHz;
    weightedW += unit.noLoadHz * wPerHz;
  }
  const frequencyHz = (weightedW - loadW) / stiffnessWPerHz;
  return { frequencyHz, powersW: units.map((unit) => (unit.noLoadHz - frequencyHz) * stiffnessOf(unit)) };
}

export interface LimitedDroopShare {
  /** The common frequency of those below their rating, Hz; null where none is, and droop no longer sets it. */
  readonly frequencyHz: number | null;
  readonly powersW: readonly number[];
  /** Which stand at their rating. */
  readonly isLimited: readonly boolean[];
  /** Load that nobody carries, W; 0 unless the load exceeds all ratings. */
  readonly unservedW: number;
}

/**
 * The same with every unit held at its rating: what one cannot take, the others share by their own droop.
 *
 * @param units  as for droopSharing
 * @param loadW  active power of the load, W
 * @returns powers, W; their sum and unservedW make loadW to rounding
 * @throws RangeError  as droopSharing
 * @see derived: a unit once at its rating stays there, because taking load off it only lowers the others' frequency further
 */
export function droopSharingLimited(units: readonly DroopUnit[], loadW: number): LimitedDroopShare {
  const isLimited = units.map(() => false);
  let share = droopSharing(units, loadW);
  for (;;) {
    const free = units.filter((_, k) => !isLimited[k]);
    const heldW = units.reduce((total, unit, k) => (isLimited[k] ? total + unit.ratedW : total), 0);
    if (free.length === 0) {
      return {
        frequencyHz: null,
        powersW: units.map((unit) => unit.ratedW),
        isLimited,
        unservedW: Math.max(0, loadW - heldW),
      };
    }
    share = droopSharing(free, loadW - heldW);
    let place = 0;
    const powersW = units.map((unit, k) => (isLimited[k] ? unit.ratedW : share.powersW[place++]!));
    const over = units.map((unit, k) => !isLimited[k] && powersW[k]! > unit.ratedW);
    if (!over.includes(true)) return { frequencyHz: share.frequencyHz, powersW, isLimited, unservedW: 0 };
    for (const [k, isOver] of over.entries()) if (isOver) isLimited[k] = true;
  }
}

/**
 * The largest load that droop shares with no unit above its rating: less than the sum of ratings where the droops do not match.
 *
 * @param units  as for droopSharing
 * @returns load, W; may be negative where the no-load frequencies lie so far apart that a unit is overloaded by the others
 * @throws RangeError  as droopSharing
 * @see derived: the frequency at which the first unit reaches its rating is the highest of the full-load frequencies
 */
export function largestDroopLoadW(units: readonly DroopUnit[]): number {
  if (units.length === 0) throw new RangeError('Cannot share a load by droop: needs at least 1 unit');
  const frequencyHz = Math.max(...units.map((unit) => unit.fullLoadHz));
  return units.reduce((total, unit) => total + (unit.noLoadHz - frequencyHz) * stiffnessOf(unit), 0);
}

function stiffnessOf(unit: DroopUnit): number {
  const { noLoadHz, fullLoadHz, ratedW } = unit;
  if (!(ratedW > 0 && Number.isFinite(ratedW)))
    throw new RangeError(`Cannot share a load by droop: rating ${ratedW} W is not above 0`);
  if (!(noLoadHz > fullLoadHz && Number.isFinite(noLoadHz - fullLoadHz))) {
    throw new RangeError(
      `Cannot share a load by droop: ${noLoadHz} Hz at no load is not above ${fullLoadHz} Hz at full load`,
    );
  }
  return ratedW / (noLoadHz - fullLoadHz);
}
