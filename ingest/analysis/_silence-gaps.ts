/** Gaps between readings, as arrays of times; nothing about findings. */
import { firstRowAt } from '../alignment/site-ticks.ts';

/** Nothing was heard between the reading at `from` and the one at `to`; Infinity where none has come since. */
export interface Gap {
  readonly from: number;
  readonly to: number;
}

/**
 * Gaps of at least `limitMs` of one source in a day, with what reaches in from before.
 *
 * @param tMs   the source's readings of the day
 * @param last  its newest reading before the day, −Infinity where it never spoke
 */
export function longGaps(tMs: Float64Array, last: number, limitMs: number): Gap[] {
  const gaps: Gap[] = [];
  let from = last;
  for (let row = 0; row < tMs.length; row++) {
    const to = tMs[row]!;
    if (to - from >= limitMs) gaps.push({ from, to });
    from = to;
  }
  gaps.push({ from, to: Number.POSITIVE_INFINITY });
  return gaps;
}

/** What lies in a gap of both, where that is at least `limitMs` long. Both in order, neither overlapping itself. */
export function intersectGaps(a: readonly Gap[], b: readonly Gap[], limitMs: number): Gap[] {
  const both: Gap[] = [];
  let i = 0;
  let j = 0;
  while (i < a.length && j < b.length) {
    const first = a[i]!;
    const second = b[j]!;
    const from = Math.max(first.from, second.from);
    const to = Math.min(first.to, second.to);
    if (to - from >= limitMs) both.push({ from, to });
    if (first.to <= second.to) i += 1;
    else j += 1;
  }
  return both;
}

/** One source as it is seen from a silence of another. */
export interface Witness {
  readonly tMs: Float64Array;
  /** Newest reading before the day, null where it never spoke. */
  readonly last: number | null;
}

/**
 * The least T at which the upper median of the witnesses' newest readings reaches `x`: now has then come
 * so far. The median is over those that have spoken by T. Infinity where that has not come about;
 * −Infinity where it had before the day.
 *
 * Of n in ascending order the upper median is the one at floor(n / 2), so it reaches x as soon as
 * ceil(n / 2) of them have; once reached it stays.
 */
export function whenNowReaches(x: number, witnesses: readonly Witness[]): number {
  let heard = 0;
  let past = 0;
  const arrivals: { readonly t: number; readonly isNew: boolean }[] = [];
  for (const { tMs, last } of witnesses) {
    if (last !== null) heard += 1;
    if (last !== null && last >= x) {
      past += 1;
      continue;
    }
    const row = firstRowAt(tMs, x);
    // Heard for the first time before x is heard, but not yet past x.
    const isNew = last === null && row === 0;
    if (last === null && row > 0) heard += 1;
    if (row < tMs.length) arrivals.push({ t: tMs[row]!, isNew });
  }
  if (past > 0 && past >= Math.ceil(heard / 2)) return Number.NEGATIVE_INFINITY;
  arrivals.sort((a, b) => a.t - b.t);
  for (const { t, isNew } of arrivals) {
    if (isNew) heard += 1;
    past += 1;
    if (past >= Math.ceil(heard / 2)) return t;
  }
  return Number.POSITIVE_INFINITY;
}
