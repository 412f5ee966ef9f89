/** Logs of units that share a load, from the physics of sharing, with seeded noise. */
import { at, type Line } from './_check.ts';

/** Numbers from 0 to 1 that are the same in every run (mulberry32). */
export function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Standard normal numbers (Box and Muller 1958). */
export function normals(seed: number): () => number {
  const random = seeded(seed);
  return () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
}

/** A load that stands still for half hours: low at night, high in the evening, W. */
export function houseLoad(seed: number, lowW = 3000, highW = 9000): (t: number) => number {
  return (t) => {
    const half = Math.floor(t / 1_800_000);
    const hour = (half / 2) % 24;
    const daily = 0.5 - 0.5 * Math.cos(((hour - 4) / 24) * 2 * Math.PI);
    const random = seeded(seed * 7919 + half)();
    return lowW + (highW - lowW) * Math.min(1, Math.max(0, 0.7 * daily + 0.45 * (random - 0.5) + 0.1));
  };
}

export interface ShareLog {
  readonly ids: readonly string[];
  readonly from?: string;
  readonly to: string;
  readonly everyS: number;
  readonly seed: number;
  readonly loadW: (t: number) => number;
  /** What each unit really gives, W. */
  readonly powersW: (t: number, totalW: number) => readonly number[];
  readonly isBackup?: (t: number) => boolean;
  /** What a unit's meter makes of its power. */
  readonly meterGain?: (t: number, unit: number) => number;
  readonly isSilent?: (t: number, unit: number) => boolean;
  /** Further or other quantities of a line. */
  readonly more?: (t: number, unit: number) => Record<string, unknown>;
  /** Slow wander of each unit's share, points (AR(1), an hour). */
  readonly wanderPoints?: number;
}

/** Lines of every unit, sampled some seconds apart. */
export function shareLog(log: ShareLog): Line[] {
  const { ids, to, everyS, loadW, powersW, isBackup = () => false, meterGain = () => 1, wanderPoints = 0.4 } = log;
  const normal = normals(log.seed);
  const keep = Math.exp(-everyS / 3600);
  let wander = ids.map(() => 0);
  const out: Line[] = [];
  for (let t = at(log.from ?? '00:00'); t < at(to); t += everyS * 1000) {
    wander = wander.map((w) => keep * w + Math.sqrt(1 - keep * keep) * wanderPoints * normal());
    const mean = wander.reduce((a, b) => a + b, 0) / ids.length;
    for (const [k, unit] of ids.entries()) {
      const own = t + k * 700;
      if (log.isSilent?.(own, k) === true) continue;
      const totalW = loadW(own);
      const realW = powersW(own, totalW)[k]! + (totalW * (wander[k]! - mean)) / 100;
      const inBackup = isBackup(t);
      const inputW = realW + 45 + 0.03 * Math.abs(realW);
      out.push({
        t: own,
        unit,
        mode: inBackup ? 'backup' : 'grid',
        grid_voltage_v: inBackup ? 0 : 231,
        output_power_w: Math.round(realW * meterGain(own, k) + 5 * normal()),
        output_current_a: Math.round((Math.abs(realW) / 230) * 10) / 10,
        grid_power_w: inBackup ? 0 : Math.round(inputW),
        dc_voltage_v: 52,
        dc_current_a: inBackup ? Math.round((inputW / 52) * 10) / 10 : 0,
        ...log.more?.(own, k),
      });
    }
  }
  return out;
}

/** Powers at fixed shares. */
export const shares =
  (...parts: readonly number[]) =>
  (_: number, totalW: number): number[] =>
    parts.map((part) => part * totalW);

/** One set of powers before an instant, another from it on. */
export const changesAt =
  (when: string, before: ShareLog['powersW'], after: ShareLog['powersW']): ShareLog['powersW'] =>
  (t, totalW) =>
    t < at(when) ? before(t, totalW) : after(t, totalW);
