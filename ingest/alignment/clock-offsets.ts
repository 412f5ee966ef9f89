/** Clock offsets of the sources of a site from differences between pairs, and a day with one taken out. */
import { SECOND_MS } from '../vocabulary/time.ts';
import type { SourceDay } from './day-block.ts';

/** How much later `a` stamps than `b`, s, from so many steps. */
export interface PairOffset {
  readonly a: string;
  readonly b: string;
  readonly offsetS: number;
  /** Standard error, s, above 0. */
  readonly errorS: number;
}

const ROUNDS = 60;

/**
 * Offset of each source relative to the group's median, s, + = its stamps are late.
 *
 * Least squares over the pairs, weighted by their errors, one source after the other until nothing moves; then the
 * median is taken off, because only differences between clocks can be seen.
 *
 * @param ids   the sources, in any order
 * @param pairs those that saw steps together; a source in none of them is not in the answer
 */
export function clockOffsets(ids: readonly string[], pairs: readonly PairOffset[]): ReadonlyMap<string, number> {
  const known = [...new Set(ids)].sort().filter((id) => pairs.some(({ a, b }) => a === id || b === id));
  const offsets = new Map(known.map((id) => [id, 0]));
  for (let round = 0; round < ROUNDS; round++) {
    for (const id of known) {
      let weights = 0;
      let sum = 0;
      for (const { a, b, offsetS, errorS } of pairs) {
        if (a !== id && b !== id) continue;
        const weight = 1 / errorS ** 2;
        weights += weight;
        sum += weight * (a === id ? (offsets.get(b) ?? 0) + offsetS : (offsets.get(a) ?? 0) - offsetS);
      }
      if (weights > 0) offsets.set(id, sum / weights);
    }
  }
  const sorted = [...offsets.values()].sort((x, y) => x - y);
  const middle = sorted.length >> 1;
  const median = sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
  return new Map([...offsets].map(([id, s]) => [id, sorted.length === 0 ? 0 : s - median]));
}

/** The same readings with their stamps set right: later stamps are brought forward by the offset. */
export function withoutOffset(source: SourceDay, offsetS: number): SourceDay {
  if (offsetS === 0) return source;
  return { ...source, tMs: source.tMs.map((t) => t - Math.round(offsetS * SECOND_MS)) };
}
