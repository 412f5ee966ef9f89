/** Logs of packs on one bank: currents that divide, charges that follow, gauges that report them. */
import { at, type Line } from './_check.ts';
import { normals } from './_share-log.ts';

export interface PackLog {
  readonly ids: readonly string[];
  readonly capacityAh?: readonly number[];
  readonly to: string;
  readonly everyS?: number;
  readonly seed?: number;
  /** Bank current as a share of capacity an hour, + = discharging, from the charge of the packs that carry. */
  readonly bankC?: (t: number, livePct: number) => number;
  /** How freely each pack takes its part; 0: not at all. */
  readonly carries?: (t: number, pack: number) => number;
  /** What the gauge adds to the truth, points. */
  readonly gaugePoints?: (t: number, pack: number, truePct: number) => number;
  readonly decimals?: number;
  readonly hasCurrent?: (t: number, pack: number) => boolean;
  readonly isSilent?: (t: number, pack: number) => boolean;
}

const HOUR_MS = 3_600_000;
/** How fast packs of unlike charge level each other, a part an hour. */
const LEVELS = 0.25;

/** Discharged by evening and night, charged full by day: a cycle of about half the charge. */
export function dayCycle(depth = 1): (t: number, livePct: number) => number {
  return (t, livePct) => {
    const hour = (t / HOUR_MS) % 24;
    if (hour >= 9 && hour < 16) return livePct >= 99.5 ? 0 : -0.12 * depth;
    return (hour >= 18 && hour < 23 ? 0.07 : 0.012) * depth;
  };
}

export function packLog(log: PackLog): Line[] {
  const { ids, to, everyS = 300, seed = 5, bankC = dayCycle(), carries = () => 1, gaugePoints = () => 0 } = log;
  const capacityAh = log.capacityAh ?? ids.map(() => 100);
  const totalAh = capacityAh.reduce((a, b) => a + b, 0);
  const normal = normals(seed);
  const scale = 10 ** (log.decimals ?? 1);
  const soc = ids.map(() => 90);
  const out: Line[] = [];
  for (let t = at('00:00'); t < at(to); t += everyS * 1000) {
    const part = ids.map((_, k) => carries(t, k) * capacityAh[k]!);
    const parts = part.reduce((a, b) => a + b, 0);
    const live = soc.reduce((sum, s, k) => sum + s * part[k]!, 0) / parts;
    const amps = ids.map((_, k) => {
      const level = (LEVELS * carries(t, k) * (soc[k]! - live) * capacityAh[k]!) / 100;
      return (bankC(t, live) * totalAh * part[k]!) / parts + level;
    });
    for (const [k, pack] of ids.entries()) {
      soc[k] = Math.min(100, Math.max(0, soc[k]! - (100 * amps[k]! * everyS) / 3600 / capacityAh[k]!));
      if (log.isSilent?.(t, k) === true) continue;
      const said = soc[k]! + gaugePoints(t, k, soc[k]!) + 0.1 * normal();
      const current = log.hasCurrent?.(t, k) === false ? {} : { pack_current_a: Math.round(amps[k]! * 10) / 10 };
      const soc_pct = Math.round(Math.min(100, Math.max(0, said)) * scale) / scale;
      out.push({ t: t + k * 900, pack, soc_pct, ...current });
    }
  }
  return out;
}
