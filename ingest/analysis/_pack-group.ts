/** What the analyzers of packs have in common: since when the packs are as they are, and when an hour is complete. */
import type { DayBlock, SourceDay } from '../alignment/day-block.ts';
import { recordAt, unchangedSince } from '../site/history.ts';
import type { PackRecord, SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { DAY_MS } from '../vocabulary/time.ts';

/** The bank on a day: its packs on record, since when they are as they are, and what they sent. */
export interface BankDay {
  readonly record: SiteRecord;
  readonly packs: readonly PackRecord[];
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly days: readonly (SourceDay | undefined)[];
}

export function bankOn(block: DayBlock, history: SiteHistory): BankDay {
  const t = block.day + DAY_MS - 1;
  const record = recordAt(history, t);
  const { packs } = record;
  const ids = packs.map((p) => p.id);
  return { record, packs, ids, since: packsSince(history, record, t), days: packs.map((p) => block.packs.get(p.id)) };
}

interface BankState {
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly ended: readonly Finding[];
}

/**
 * The state to go on from: as it is, or begun anew where the packs are others than before.
 *
 * @param close what was open, said as ended at that time; null where nothing was
 */
export function goOnOrAnew<State extends BankState>(
  state: State,
  { ids, since, record }: BankDay,
  day: number,
  begin: (ids: readonly string[], since: number | null, ended: readonly Finding[]) => State,
  close: (end: number) => Finding | null,
): State {
  if (state.ids.join() === ids.join() && state.since === since) return state;
  const closed = close(record.validFrom ?? day);
  return begin(ids, since, closed === null ? state.ended : [...state.ended, closed]);
}

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
