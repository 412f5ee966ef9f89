/** The published limits that an excursion is set beside, in percent of nominal. */

type Quantity = 'frequency' | 'voltage';

/**
 * EN 50160, systems without a synchronous connection: during all of the time frequency within ±15 %, voltage
 * within +10/−15 % (10-minute means; here the extreme reading stands for them).
 */
const ALWAYS: { readonly [Q in Quantity]: readonly [number, number] } = { frequency: [-15, 15], voltage: [-15, 10] };

/** ISO 8528-5, transient limits by class: load on, load off. G2 as published; the others from memory, unverified. */
const CLASSES = [
  { name: 'G3', frequency: [-7, 10], voltage: [-15, 20] },
  { name: 'G2', frequency: [-10, 12], voltage: [-20, 25] },
  { name: 'G1', frequency: [-15, 18], voltage: [-25, 35] },
] as const;

const isInside = (value: number, [low, high]: readonly [number, number]): boolean =>
  value >= low - 1e-9 && value <= high + 1e-9;

/** Whether a deviation keeps to what EN 50160 asks during all of the time in an island. */
export function isWithinAlways(quantity: Quantity, deviationPct: number): boolean {
  return isInside(deviationPct, ALWAYS[quantity]);
}

/** The strictest performance class whose transient limits a deviation keeps to; `none` where it keeps to none. */
export function transientClass(quantity: Quantity, deviationPct: number): 'G3' | 'G2' | 'G1' | 'none' {
  return CLASSES.find((one) => isInside(deviationPct, one[quantity]))?.name ?? 'none';
}
