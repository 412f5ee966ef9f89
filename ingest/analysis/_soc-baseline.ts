/** How far each pack's charge stood from the bank's, and how that hung on the current, while all was as proven. */
import { longRunVariance } from '../math/long-run-variance.ts';
import { solveLinear } from '../math/solve-linear.ts';

/** One hour, small, because hundreds are kept. All in order of the packs. */
export interface SocHour {
  readonly t: number;
  /** Reported charge less the bank's, points. */
  readonly apart: readonly number[];
  /** The bank's charge, %, by capacity. */
  readonly bankPct: number;
  /** The bank's current, slowed by the time that packs take to part, as a share of capacity an hour; + = discharging. */
  readonly slowC: number;
  readonly residualPoints: readonly (number | null)[];
  readonly jumpPoints: readonly (number | null)[];
  readonly netAh: readonly (number | null)[];
  readonly currentA: readonly (number | null)[];
  readonly socPct: readonly number[];
}

export interface PackLine {
  /** apart = level + byCurrent · slowC + byCharge · (bankPct − 50). */
  readonly level: number;
  readonly byCurrent: number;
  readonly byCharge: number;
  /** Standard deviation of one hour, points. */
  readonly scatter: number;
  readonly inflation: number;
}

export interface SocBaseline {
  readonly from: number;
  readonly to: number;
  readonly hours: number;
  readonly packs: readonly PackLine[];
}

/** A gauge is not read more finely than this. */
const SCATTER_MIN_POINTS = 0.6;
const INFLATION_MIN = 3;
const INFLATION_MAX = 24;
/** Before any data: how much a pack's distance may hang on 1 C of current and on a point of charge. */
const PRIOR_BY_CURRENT = 20;
const PRIOR_BY_CHARGE = 0.1;

/** @param hours at least 24, in order of time */
export function fitSocBaseline(hours: readonly SocHour[]): SocBaseline {
  const packs = hours[0]!.apart.map((_, pack) => fitPack(hours, pack));
  return { from: hours[0]!.t, to: hours.at(-1)!.t, hours: hours.length, packs };
}

function fitPack(hours: readonly SocHour[], pack: number): PackLine {
  const a = new Float64Array(9);
  const b = new Float64Array(3);
  for (const hour of hours) {
    const x = [1, hour.slowC, hour.bankPct - 50];
    for (let i = 0; i < 3; i++) {
      b[i]! += x[i]! * hour.apart[pack]!;
      for (let j = 0; j < 3; j++) a[i * 3 + j]! += x[i]! * x[j]!;
    }
  }
  // Ridge with a scatter of 1 point: where the hours never varied, the terms stay at nothing.
  a[4]! += 1 / PRIOR_BY_CURRENT ** 2;
  a[8]! += 1 / PRIOR_BY_CHARGE ** 2;
  const [level = 0, byCurrent = 0, byCharge = 0] = solveLinear(a, b) ?? [];
  const residuals = hours.map(
    (hour) => hour.apart[pack]! - level - byCurrent * hour.slowC - byCharge * (hour.bankPct - 50),
  );
  const variance = residuals.reduce((sum, r) => sum + r * r, 0) / Math.max(1, residuals.length - 3);
  const longRun = longRunVariance(residuals)?.variance ?? variance;
  const inflation = variance > 0 ? Math.min(INFLATION_MAX, Math.max(INFLATION_MIN, longRun / variance)) : INFLATION_MIN;
  return { level, byCurrent, byCharge, scatter: Math.max(SCATTER_MIN_POINTS, Math.sqrt(variance)), inflation };
}

/** How a pack stands to its baseline, points. */
export function apartFromBaseline(baseline: SocBaseline, pack: number, hour: SocHour): number {
  const { level, byCurrent, byCharge } = baseline.packs[pack]!;
  return hour.apart[pack]! - level - byCurrent * hour.slowC - byCharge * (hour.bankPct - 50);
}
