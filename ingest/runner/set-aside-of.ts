/** Which stored readings of a site are set aside, and the heads of the blocks from which that is told. */
import { type DayHead, setAsideReadings } from '../alignment/set-aside.ts';
import type { ReadingStore, StoredSource } from '../store/reading-store.ts';
import { dayOf, T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';

export interface SetAside {
  readonly heads: readonly DayHead[];
  /** By time, then source. */
  readonly setAside: readonly { readonly source: number; readonly t: number }[];
}

/**
 * @param sources the sources of one site
 * @param asOf    as if only readings up to it had arrived, epoch ms; null for all
 */
export function setAsideOf(store: ReadingStore, sources: readonly StoredSource[], asOf: number | null): SetAside {
  const heads = sources.flatMap(({ source }) => headsUpTo(store, source, asOf));
  return { heads, setAside: setAsideReadings(heads) };
}

/** The heads of a source's blocks, the last one cut at asOf. */
function headsUpTo(store: ReadingStore, source: number, asOf: number | null): DayHead[] {
  const heads = store.heads(source, T_MIN_MS, asOf === null ? T_MAX_MS : dayOf(asOf));
  const last = heads.at(-1);
  if (asOf === null || last === undefined || last.tLast <= asOf) return heads;
  const tMs = store.readBlock(source, last.day)?.tMs.filter((t) => t <= asOf) ?? new Float64Array(0);
  const cut = tMs.length === 0 ? [] : [{ ...last, readings: tMs.length, tLast: tMs[tMs.length - 1]! }];
  return [...heads.slice(0, -1), ...cut];
}
