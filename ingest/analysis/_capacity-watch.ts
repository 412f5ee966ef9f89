/** Watches how much charge each pack reports for the ampere-hours counted: more than was proven is lost capacity. */
import type { CountBin } from './_count-bins.ts';
import { type CountLine, gainSeen } from './_count-line.ts';
import { END_THRESHOLD } from './_llr-cusum.ts';

/** The test speaks for a swing greater by this part; by less than the second a gauge's own gain may change. */
const SHIFT = 0.15;
export const CAPACITY_SWING = 0.12;
/** Charge that must have gone in or out before it is raised, points. */
const MOVED_POINTS = 10;
const STEP_MAX_PART = 0.34;
/** A swing is not the same at every charge: so much of what is counted scatters. */
const UNEVEN = 0.06;
/** What was moved long ago counts less and less: a loss goes on. */
const FORGETS = 0.985;

export interface OpenCapacity {
  readonly start: number;
  readonly detectedAt: number;
  readonly statistic: number;
  readonly threshold: number;
  readonly levelSum: number;
  readonly levelSince: number | null;
}

export interface CapacityWatch {
  readonly open: OpenCapacity | null;
  readonly sum: number;
  /** When the sum began. */
  readonly since: number | null;
  /** Σ moved², Σ moved·left and Σ |moved| since, points; the first two forget. */
  readonly xx: number;
  readonly xy: number;
  readonly moved: number;
}

export const NEW_CAPACITY: CapacityWatch = { open: null, sum: 0, since: null, xx: 0, xy: 0, moved: 0 };

/** By how much the swing is greater than proven, as a part, and its standard error. */
export function swingOf(watch: CapacityWatch, line: CountLine): { readonly more: number; readonly error: number } {
  if (watch.xx === 0) return { more: 0, error: 1 };
  return { more: watch.xy / watch.xx, error: Math.sqrt(line.noise ** 2 / watch.xx + line.gainError ** 2) };
}

export interface CapacityOf {
  readonly line: CountLine;
  readonly pack: number;
  readonly before: CountBin;
  readonly now: CountBin;
  /** Whether its current read alike all through, and another's did not: a stuck one counts what never flowed. */
  readonly isStuck: boolean;
  readonly closedAt: number;
  readonly threshold: number;
}

/** @returns endedAt: since when the swing is as proven again */
export function watchCapacity(
  watch: CapacityWatch,
  of: CapacityOf,
): { readonly watch: CapacityWatch; readonly endedAt: number | null } {
  const { line, pack, before, now, isStuck, threshold, closedAt } = of;
  const seen = isStuck || now.apart[pack] == null ? null : gainSeen(line, pack, before, now);
  if (seen === null) return { watch, endedAt: null };
  const { moved, left, open2 } = seen;
  const variance = line.noise ** 2 + (UNEVEN * moved) ** 2 + open2 / 3;
  const size = Math.abs(moved);
  const beyond = Math.sign(moved) * left - 2 * line.gainError * size;
  const limit = STEP_MAX_PART * (watch.open === null ? threshold : END_THRESHOLD);
  const gain = (SHIFT * size * beyond - (SHIFT * size) ** 2 / 2) / variance;
  const step = Math.max(-limit, Math.min(limit, gain));
  const kept = {
    xx: FORGETS * watch.xx + moved * moved,
    xy: FORGETS * watch.xy + moved * left,
    moved: watch.moved + size,
  };
  if (watch.open !== null) return watchEnd({ ...watch, ...kept }, watch.open, step, now.t);
  const sum = watch.sum + step;
  if (sum <= 0) return { watch: { ...NEW_CAPACITY }, endedAt: null };
  const next: CapacityWatch = { ...kept, open: null, sum: Math.min(sum, 3 * threshold), since: watch.since ?? now.t };
  const isLoss = sum > threshold && next.moved >= MOVED_POINTS && swingOf(next, line).more >= CAPACITY_SWING;
  if (!isLoss) return { watch: next, endedAt: null };
  const open: OpenCapacity = {
    start: watch.since ?? now.t,
    detectedAt: closedAt,
    statistic: sum,
    threshold,
    levelSum: 0,
    levelSince: null,
  };
  return { watch: { ...next, open }, endedAt: null };
}

function watchEnd(watch: CapacityWatch, open: OpenCapacity, step: number, t: number) {
  const levelSum = Math.max(0, open.levelSum - step);
  const levelSince = levelSum === 0 ? null : (open.levelSince ?? t);
  if (levelSum > END_THRESHOLD) return { watch: NEW_CAPACITY, endedAt: levelSince ?? t };
  return { watch: { ...watch, open: { ...open, levelSum, levelSince } }, endedAt: null };
}
