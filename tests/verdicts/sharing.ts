/** How units on one node divide a load: by path, by source and droop, or by the link. */
import { type Fault, type Law, levelOf, type SimUnit } from './plan.ts';

const COPPER_OHM_MM2_M = 0.0178;

export function pathOhm(unit: SimUnit, contactOhm: number): number {
  return (COPPER_OHM_MM2_M * 2 * (unit.outM + unit.inM)) / unit.areaMm2 + contactOhm;
}

export interface Shared {
  /** W delivered by each unit; the sum is what they carry together. */
  readonly watts: Float64Array;
  /** V at the output of each unit. */
  readonly volts: Float64Array;
}

export interface Sharing {
  readonly units: readonly SimUnit[];
  readonly law: Law;
  readonly loadW: number;
  readonly t: number;
  readonly faults: readonly Fault[];
  readonly contactOhm: (place: number) => number;
  /** Of the node, on the grid; on its own it is what the sources make of it. */
  readonly gridV: number;
  readonly places: readonly number[];
}

/** Solves one node. Faults that act on sharing are looked up by the place of the unit in the site. */
export function share({ units, law, loadW, t, faults, contactOhm, gridV, places }: Sharing): Shared {
  const n = units.length;
  const watts = new Float64Array(n);
  const volts = new Float64Array(n).fill(gridV);
  const ohms = units.map((unit, i) => {
    const added = faults.reduce(
      (sum, f) => sum + (f.what === 'path' && f.place === places[i] ? f.size * levelOf(f, t) : 0),
      0,
    );
    return pathOhm(unit, contactOhm(places[i]!)) + added;
  });
  const isOpen = units.map((_, i) =>
    faults.some((f) => f.what === 'open_output' && f.place === places[i] && levelOf(f, t) > 0),
  );
  if (law === 'link') {
    const rated = units.reduce((sum, u, i) => sum + (isOpen[i] ? 0 : u.ratedW), 0);
    units.forEach((u, i) => {
      watts[i] = isOpen[i] ? 0 : (loadW * u.ratedW) / rated;
      volts[i] = 230 + (watts[i]! / 230) * ohms[i]!;
    });
  } else {
    const emf = units.map((u, i) =>
      law === 'wired'
        ? 0
        : u.emfV +
          faults.reduce((s, f) => s + (f.what === 'emf' && f.place === places[i] ? f.size * levelOf(f, t) : 0), 0),
    );
    const resistance = units.map((u, i) => (law === 'wired' ? ohms[i]! : u.droopOhm + ohms[i]!));
    let conductance = 0;
    let weighted = 0;
    units.forEach((_, i) => {
      if (isOpen[i]) return;
      conductance += 1 / resistance[i]!;
      weighted += emf[i]! / resistance[i]!;
    });
    const nominal = law === 'wired' ? gridV : 230;
    const amps = loadW / nominal;
    const node = (weighted - amps) / conductance;
    units.forEach((_, i) => {
      if (isOpen[i]) return;
      const current = (emf[i]! - node) / resistance[i]!;
      watts[i] = current * nominal;
      volts[i] = law === 'wired' ? gridV - current * 0.5 * ohms[i]! : node + current * ohms[i]!;
    });
  }
  limit(watts, units, faults, t, places);
  return { watts, volts };
}

/** A unit that can't give more leaves the rest to the others. */
function limit(
  watts: Float64Array,
  units: readonly SimUnit[],
  faults: readonly Fault[],
  t: number,
  places: readonly number[],
): void {
  for (const fault of faults) {
    const i = places.indexOf(fault.place);
    if (fault.what !== 'ceiling' || i < 0 || levelOf(fault, t) === 0) continue;
    const most = fault.size * units[i]!.ratedW;
    const over = watts[i]! - most;
    if (over <= 0) continue;
    watts[i] = most;
    const rest = watts.reduce((sum, w, k) => sum + (k === i ? 0 : w), 0);
    for (let k = 0; k < watts.length; k++)
      if (k !== i) watts[k]! += rest > 0 ? (over * watts[k]!) / rest : over / (watts.length - 1);
  }
}
