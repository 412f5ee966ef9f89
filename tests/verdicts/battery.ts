/** A bank of LFP packs in parallel: one voltage, currents by their resistance and charge, gauges that count. */
import { type Fault, levelOf, type SimPack } from './plan.ts';

const CELLS = 16;
/** Rest voltage of an LFP cell by charge: the usual shape, from memory, good for a simulator only. */
const OCV: readonly (readonly [number, number])[] = [
  [0, 2.9],
  [5, 3.1],
  [10, 3.2],
  [20, 3.25],
  [30, 3.28],
  [40, 3.295],
  [50, 3.3],
  [60, 3.31],
  [70, 3.33],
  [80, 3.335],
  [90, 3.34],
  [95, 3.36],
  [99, 3.42],
  [100, 3.5],
];

export function ocvV(soc: number): number {
  const s = Math.max(0, Math.min(100, soc));
  for (let i = 1; i < OCV.length; i++) {
    const [s1, v1] = OCV[i]!;
    if (s > s1) continue;
    const [s0, v0] = OCV[i - 1]!;
    return CELLS * (v0 + ((v1 - v0) * (s - s0)) / (s1 - s0));
  }
  return CELLS * 3.5;
}

export class Bank {
  readonly soc: Float64Array;
  /** What each gauge says. */
  readonly told: Float64Array;
  readonly amps: Float64Array;
  volts = 52;
  readonly #packs: readonly SimPack[];
  readonly #faults: readonly Fault[];

  constructor(packs: readonly SimPack[], faults: readonly Fault[]) {
    this.#packs = packs;
    this.#faults = faults;
    this.soc = Float64Array.from(packs, (p) => p.startSoc);
    this.told = Float64Array.from(packs, (p) => p.startSoc);
    this.amps = new Float64Array(packs.length);
  }

  #level(what: Fault['what'], k: number, t: number): number {
    return this.#faults.reduce((sum, f) => sum + (f.what === what && f.place === k ? f.size * levelOf(f, t) : 0), 0);
  }

  capacityAh(k: number, t: number): number {
    return this.#packs[k]!.capacityAh * (1 - this.#level('pack_capacity', k, t));
  }

  /** Charge of the bank as its true mean by capacity, %. */
  meanSoc(): number {
    const ah = this.#packs.reduce((sum, p) => sum + p.capacityAh, 0);
    return this.#packs.reduce((sum, p, k) => sum + (p.capacityAh * this.soc[k]!) / ah, 0);
  }

  /** Currents and voltage at an instant. @param amps of the bank, + discharging */
  settle(amps: number, t: number): void {
    const packs = this.#packs;
    let conductance = 0;
    let weighted = 0;
    const ohms = packs.map((p, k) => p.ohm * (1 + this.#level('pack_path', k, t)));
    const isOpen = packs.map((_, k) => this.#level('pack_open', k, t) > 0);
    packs.forEach((_, k) => {
      if (isOpen[k]) return;
      conductance += 1 / ohms[k]!;
      weighted += ocvV(this.soc[k]!) / ohms[k]!;
    });
    this.volts = (weighted - amps) / conductance;
    packs.forEach((_, k) => {
      this.amps[k] = isOpen[k] ? 0 : (ocvV(this.soc[k]!) - this.volts) / ohms[k]!;
    });
  }

  /** Moves charge by the currents that were settled. */
  move(ms: number, t: number): void {
    this.#packs.forEach((pack, k) => {
      const current = this.amps[k]!;
      const percent = (100 * current * ms) / 3_600_000;
      this.soc[k] = Math.max(0, Math.min(100, this.soc[k]! - percent / this.capacityAh(k, t)));
      // A gauge counts against the capacity it was told.
      const drift = (this.#level('gauge_drift', k, t) * ms) / 86_400_000;
      const isFaulty = this.#level('gauge_drift', k, t) !== 0;
      this.told[k] = Math.max(0, Math.min(100, this.told[k]! - (percent * pack.gaugeGain) / pack.capacityAh - drift));
      if (!isFaulty && this.soc[k]! >= 99.5 && Math.abs(current) < 0.05 * pack.capacityAh) this.told[k] = 100;
      // A pack that lost capacity ends its discharge early, and its gauge follows what it has.
      if (this.capacityAh(k, t) < 0.97 * pack.capacityAh) this.told[k] = this.soc[k]!;
    });
  }

  toldSoc(k: number, t: number): number {
    return Math.max(0, Math.min(100, this.told[k]! - this.#level('gauge_jump', k, t)));
  }
}
