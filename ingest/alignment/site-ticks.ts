/** All readings of a day over several sources, in order of time, one call an instant. */
import type { SourceDay } from './day-block.ts';

/**
 * What is called at each instant at which any source has a reading: the time, the newest row of each
 * source (−1 before its first), and 1 for each source that has a reading at this very instant. The two
 * arrays are used again at the next instant: read them, do not keep them.
 *
 * @returns whether to go on to the next instant
 */
export type Visit = (tMs: number, rows: Int32Array, moved: Uint8Array) => boolean;

/**
 * Walks the instants of a day. Readings of several sources at one instant come in one call, so that no
 * decision rests on half of what is known at that time, nor on the order of the sources.
 *
 * @param sources  each in order of time
 * @param from     row of each source to begin at; rows before it are passed over
 */
export function walkInstants(sources: readonly SourceDay[], from: readonly number[], visit: Visit): void {
  const count = sources.length;
  const times = sources.map((source) => source.tMs);
  const next = Int32Array.from(from);
  const rows = new Int32Array(count).fill(-1);
  const moved = new Uint8Array(count);
  let t = Number.POSITIVE_INFINITY;
  for (let k = 0; k < count; k++) t = Math.min(t, times[k]![next[k]!] ?? Number.POSITIVE_INFINITY);
  while (t < Number.POSITIVE_INFINITY) {
    let following = Number.POSITIVE_INFINITY;
    for (let k = 0; k < count; k++) {
      const own = times[k]!;
      let row = next[k]!;
      moved[k] = 0;
      if (row < own.length && own[row] === t) {
        moved[k] = 1;
        rows[k] = row;
        row += 1;
        next[k] = row;
      }
      if (row < own.length && own[row]! < following) following = own[row]!;
    }
    if (!visit(t, rows, moved)) return;
    t = following;
  }
}

/** The first row whose time is ≥ t; the number of rows where there is none. */
export function firstRowAt(tMs: Float64Array, t: number): number {
  let low = 0;
  let high = tMs.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (tMs[middle]! < t) low = middle + 1;
    else high = middle;
  }
  return low;
}
