/** What the analyzers of packs have in common: since when the packs are as they are, and when an hour is complete. */
import { unchangedSince } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';

/** When the baseline of a bank may begin: the newest change of any pack, or commissioning; null from the first reading. */
export function packsSince(history: SiteHistory, record: SiteRecord, t: number): number | null {
  const changes = record.packs.flatMap((pack) => unchangedSince(history, pack.id, t) ?? []);
  const all = record.commissioned === null ? changes : [...changes, record.commissioned];
  return all.length === 0 ? null : Math.max(...all);
}

/** The least time of any source's reading at or after t, or null: only then is what ended at t complete. */
export function firstReadingFrom(times: readonly (Float64Array | undefined)[], t: number): number | null {
  const found = times.flatMap((tMs) => tMs?.find((reading) => reading >= t) ?? []);
  return found.length === 0 ? null : Math.min(...found);
}
