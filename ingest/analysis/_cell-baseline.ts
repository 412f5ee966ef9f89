/** How far a pack's cells stood apart, and how that hung on the current, while all was as proven. */
import { longRunVariance } from '../math/long-run-variance.ts';
import type { CellHour } from './_cell-hours.ts';

export interface CellBaseline {
  readonly from: number;
  readonly to: number;
  readonly hours: number;
  /** spread = levelV + byLoadV · loadC. */
  readonly levelV: number;
  readonly byLoadV: number;
  /** Standard deviation of an hour, V. */
  readonly scatterV: number;
  readonly inflation: number;
}

/** Cells are read to a millivolt, two of them. */
const SCATTER_MIN_V = 0.002;
const INFLATION_MIN = 2;
const INFLATION_MAX = 24;
/** Before any data: what 1 C of current may add, V. */
const PRIOR_BY_LOAD_V = 0.05;

/** @param hours of one place, at least 2, in order of time */
export function fitCells(hours: readonly CellHour[]): CellBaseline {
  const n = hours.length;
  const meanV = hours.reduce((sum, h) => sum + h.spreadV, 0) / n;
  const meanC = hours.reduce((sum, h) => sum + h.loadC, 0) / n;
  const xx = hours.reduce((sum, h) => sum + (h.loadC - meanC) ** 2, 0);
  const xy = hours.reduce((sum, h) => sum + (h.loadC - meanC) * (h.spreadV - meanV), 0);
  // Ridge: where the current never varied, its part stays at nothing.
  const byLoadV = xy / (xx + (SCATTER_MIN_V / PRIOR_BY_LOAD_V) ** 2);
  const levelV = meanV - byLoadV * meanC;
  const residuals = hours.map((h) => h.spreadV - levelV - byLoadV * h.loadC);
  const variance = residuals.reduce((sum, r) => sum + r * r, 0) / Math.max(1, n - 2);
  const longRun = longRunVariance(residuals)?.variance ?? variance;
  const inflation = variance > 0 ? Math.min(INFLATION_MAX, Math.max(INFLATION_MIN, longRun / variance)) : INFLATION_MIN;
  const scatterV = Math.max(SCATTER_MIN_V, Math.sqrt(variance));
  return { from: hours[0]!.t, to: hours.at(-1)!.t, hours: n, levelV, byLoadV, scatterV, inflation };
}

/** What the baseline expects of an hour, V. */
export function expectedV(baseline: CellBaseline, hour: CellHour): number {
  return baseline.levelV + baseline.byLoadV * hour.loadC;
}
