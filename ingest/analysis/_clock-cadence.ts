/** The rhythm of a source's own stamps: a clock that is set moves it, by itself and at once. */
import { HOUR_MS, SECOND_MS } from '../vocabulary/time.ts';

/** Where in the interval an hour's stamps fall, and when that moved. */
export interface Cadence {
  /** Seconds into the interval; null where the hour's stamps keep no rhythm. */
  readonly phaseS: number | null;
  /** Newest moves, known but for whole intervals: [t of the hour, s]. */
  readonly moves: readonly (readonly [number, number])[];
  /** Stamps left out (+) and given twice over (−), s: what a clock does that is put forward or back. */
  readonly jumps: readonly (readonly [number, number])[];
  readonly last: number | null;
}

export const NEW_CADENCE: Cadence = { phaseS: null, moves: [], jumps: [], last: null };

/** Stamps that fall together less closely than this keep no rhythm (length of the mean direction, 0 to 1). */
const RHYTHM_MIN = 0.85;
const STAMPS_MIN = 6;
const MOVE_PART = 0.1;
const KEPT = 12;
const NEAR_MS = 6 * HOUR_MS;

/** @param tMs stamps of one hour, in order */
export function takeHourOfStamps(before: Cadence, hour: number, tMs: Float64Array, intervalS: number): Cadence {
  if (tMs.length === 0) return before;
  const cadence = withJumps(before, hour, tMs, intervalS);
  if (tMs.length < STAMPS_MIN) return cadence;
  const intervalMs = intervalS * SECOND_MS;
  let x = 0;
  let y = 0;
  for (const t of tMs) {
    const angle = (2 * Math.PI * ((t - hour) % intervalMs)) / intervalMs;
    x += Math.cos(angle);
    y += Math.sin(angle);
  }
  if (Math.hypot(x, y) / tMs.length < RHYTHM_MIN) return cadence;
  const phaseS = Math.round(((Math.atan2(y, x) / (2 * Math.PI)) * intervalS + intervalS) * 100) / 100;
  const movedS = cadence.phaseS === null ? 0 : turned(phaseS - cadence.phaseS, intervalS);
  const hasMoved = Math.abs(movedS) > MOVE_PART * intervalS;
  return {
    ...cadence,
    phaseS,
    moves: hasMoved ? [...cadence.moves, [hour, movedS] as const].slice(-KEPT) : cadence.moves,
  };
}

function withJumps(before: Cadence, hour: number, tMs: Float64Array, intervalS: number): Cadence {
  const jumps: (readonly [number, number])[] = [];
  let last = before.last;
  for (const t of tMs) {
    const gapS = last === null ? 0 : (t - last) / SECOND_MS;
    if (gapS > 1.6 * intervalS) jumps.push([last!, Math.round(gapS - intervalS)]);
    last = t;
  }
  const twiceS = tMs.length * intervalS - HOUR_MS / SECOND_MS;
  if (twiceS >= 2 * intervalS) jumps.push([hour, -twiceS]);
  return { ...before, last, jumps: jumps.length === 0 ? before.jumps : [...before.jumps, ...jumps].slice(-KEPT) };
}

/** A difference of phases, brought to within half an interval. */
function turned(s: number, intervalS: number): number {
  return s - intervalS * Math.round(s / intervalS);
}

/** When near a time the stamps moved by about so much; null where they did not. */
export function movedAt(
  cadence: Cadence,
  near: number,
  { offsetS, errorS }: { readonly offsetS: number; readonly errorS: number },
  intervalS: number,
): number | null {
  const isNear = ([t]: readonly [number, number]): boolean =>
    Math.abs(t - near) <= NEAR_MS + Math.abs(offsetS) * SECOND_MS;
  const move = cadence.moves
    .filter(isNear)
    .find(([, s]) => Math.abs(turned(s - offsetS, intervalS)) <= Math.max(0.15 * intervalS, 2 * errorS));
  if (Math.abs(offsetS) < 1.6 * intervalS) return move === undefined ? null : closest(move[0], near);
  const jumps = cadence.jumps.filter((jump) => isNear(jump) && Math.sign(jump[1]) === Math.sign(offsetS));
  const isLike = (s: number): boolean => Math.abs(s - offsetS) <= Math.max(1.5 * intervalS, 2 * errorS);
  if (offsetS > 0) return jumps.find(([, s]) => isLike(s))?.[0] ?? null;
  // What is given twice over is cut by the hour, so its parts are summed.
  return jumps.length > 0 && isLike(jumps.reduce((sum, [, s]) => sum + s, 0))
    ? closest(jumps[0]![0] + HOUR_MS, near)
    : null;
}

/** A move shows in the first hour that keeps the new rhythm: it happened in the two hours before its end. */
function closest(hour: number, near: number): number {
  return Math.min(Math.max(near, hour - HOUR_MS), hour + HOUR_MS);
}
