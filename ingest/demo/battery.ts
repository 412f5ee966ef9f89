/** LFP packs in parallel on one busbar: open-circuit voltage, division of the current, gauges. */

export const CELLS = 16;
/** 3.45 V a cell: where charging holds the voltage. */
export const CHARGE_LIMIT_V = 55.2;

/** Open-circuit voltage against charge: piecewise linear; `charge` rises from 0 to 1, `cellV` belongs to it. */
interface OcvCurve {
  readonly charge: readonly number[];
  readonly cellV: readonly number[];
}

/** Pseudo-OCV of an LFP cell, mean of charge and discharge at C/32 (open Piecewise-Battery-OCV data, MIT), interpolated. */
export const LFP_OCV: OcvCurve = {
  charge: [0, 0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.98, 0.99, 1],
  cellV: [
    2.0102, 2.7019, 2.8644, 3.0721, 3.2029, 3.2156, 3.2413, 3.2778, 3.2948, 3.2991, 3.3032, 3.3163, 3.3371, 3.3411,
    3.3429, 3.3481, 3.3703, 3.5981,
  ],
};

/** Charge at which an LFP pack rests at the charge limit: what its gauge calls 100 %. */
const FULL_CHARGE = 0.9935;

/** State of the bank. Arrays are as long as it has packs; currents + = discharging. */
export interface Bank {
  readonly count: number;
  readonly curve: OcvCurve;
  /** True charge, 0 to 1 of `capacityAh`. */
  readonly charge: Float64Array;
  readonly capacityAh: Float64Array;
  readonly resistanceOhm: Float64Array;
  /** A pack off the busbar by its contactor or fuse. */
  readonly isOpen: Uint8Array;
  readonly openCircuitV: Float64Array;
  /** dU/dcharge of the pack here, V per unit of charge. */
  readonly slopeV: Float64Array;
  readonly currentA: Float64Array;
  /** What the pack's own gauge says, %. */
  readonly gaugePct: Float64Array;
  /** Offset of the gauge's current sensor, A. */
  readonly offsetA: Float64Array;
  /** A gauge that a full charge does not reset. */
  readonly ignoresFull: Uint8Array;
  busV: number;
}

export function createBank(
  packs: readonly { readonly capacityAh: number; readonly resistanceOhm: number }[],
  charge: number,
  curve: OcvCurve = LFP_OCV,
): Bank {
  const count = packs.length;
  const bank: Bank = {
    count,
    curve,
    charge: new Float64Array(count).fill(charge),
    capacityAh: Float64Array.from(packs, (p) => p.capacityAh),
    resistanceOhm: Float64Array.from(packs, (p) => p.resistanceOhm),
    isOpen: new Uint8Array(count),
    openCircuitV: new Float64Array(count),
    slopeV: new Float64Array(count),
    currentA: new Float64Array(count),
    gaugePct: new Float64Array(count).fill((100 * charge) / FULL_CHARGE),
    offsetA: new Float64Array(count),
    ignoresFull: new Uint8Array(count),
    busV: 0,
  };
  settle(bank);
  splitCurrent(bank, 0, 0);
  return bank;
}

/** Brings voltage and slope of every pack up to its charge. */
function settle(bank: Bank): void {
  const { charge: at, cellV } = bank.curve;
  for (let k = 0; k < bank.count; k++) {
    const z = bank.charge[k]!;
    let j = at.length - 2;
    while (j > 0 && at[j]! > z) j--;
    const slope = (cellV[j + 1]! - cellV[j]!) / (at[j + 1]! - at[j]!);
    bank.slopeV[k] = CELLS * slope;
    bank.openCircuitV[k] = CELLS * (cellV[j]! + slope * (z - at[j]!));
  }
}

/** Resistance of a pack as a step of `dtS` sees it: backward Euler, because near full the packs settle in seconds. */
function stepOhm(bank: Bank, k: number, dtS: number): number {
  return bank.resistanceOhm[k]! + (bank.slopeV[k]! * dtS) / (3600 * bank.capacityAh[k]!);
}

/**
 * Divides a current among the packs: one bus voltage V, I_k = (U_k − V)/R_k.
 *
 * @param totalA  drawn from the bus, A; negative while charging
 * @param dtS     length of the step that the currents will hold for; 0 for the instant
 */
export function splitCurrent(bank: Bank, totalA: number, dtS: number): void {
  let conductance = 0;
  let driven = 0;
  for (let k = 0; k < bank.count; k++) {
    if (bank.isOpen[k] === 1) continue;
    const g = 1 / stepOhm(bank, k, dtS);
    conductance += g;
    driven += bank.openCircuitV[k]! * g;
  }
  bank.busV = conductance === 0 ? 0 : (driven - totalA) / conductance;
  for (let k = 0; k < bank.count; k++) {
    bank.currentA[k] = bank.isOpen[k] === 1 ? 0 : (bank.openCircuitV[k]! - bank.busV) / stepOhm(bank, k, dtS);
  }
}

/** The largest charging current, A, that keeps the bus at or below the charge limit over a step. */
export function acceptableA(bank: Bank, dtS: number): number {
  let sum = 0;
  for (let k = 0; k < bank.count; k++) {
    if (bank.isOpen[k] === 0) sum += (CHARGE_LIMIT_V - bank.openCircuitV[k]!) / stepOhm(bank, k, dtS);
  }
  return Math.max(0, sum);
}

/** Moves charge and gauges on by one step at a constant bus current. */
export function stepBank(bank: Bank, totalA: number, dtS: number): void {
  splitCurrent(bank, totalA, dtS);
  for (let k = 0; k < bank.count; k++) {
    const perAh = dtS / (3600 * bank.capacityAh[k]!);
    bank.charge[k] = Math.min(1, Math.max(0, bank.charge[k]! - bank.currentA[k]! * perAh));
    const gauge = bank.gaugePct[k]! - ((bank.currentA[k]! + bank.offsetA[k]!) * perAh * 100) / FULL_CHARGE;
    bank.gaugePct[k] = Math.min(100, Math.max(0, gauge));
  }
  settle(bank);
}

/** A full charge: every gauge that heeds it says 100 %. */
export function resyncGauges(bank: Bank): void {
  for (let k = 0; k < bank.count; k++) {
    if (bank.ignoresFull[k] === 0 && bank.isOpen[k] === 0) bank.gaugePct[k] = 100;
  }
}

/** What the bank tells the lead: gauges weighted by capacity, %. */
export function bankGaugePct(bank: Bank): number {
  let sum = 0;
  let weight = 0;
  for (let k = 0; k < bank.count; k++) {
    sum += bank.gaugePct[k]! * bank.capacityAh[k]!;
    weight += bank.capacityAh[k]!;
  }
  return sum / weight;
}

/** True charge of what is on the bus, 0 to 1, weighted by capacity. */
export function bankCharge(bank: Bank): number {
  let sum = 0;
  let weight = 0;
  for (let k = 0; k < bank.count; k++) {
    if (bank.isOpen[k] === 1) continue;
    sum += bank.charge[k]! * bank.capacityAh[k]!;
    weight += bank.capacityAh[k]!;
  }
  return weight === 0 ? 0 : sum / weight;
}

/** Ampere-hours of what is on the bus. */
export function onlineAh(bank: Bank): number {
  let sum = 0;
  for (let k = 0; k < bank.count; k++) if (bank.isOpen[k] === 0) sum += bank.capacityAh[k]!;
  return sum;
}
