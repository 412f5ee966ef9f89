/**
 * Merges gathered readings into the block of their source and day: key, fill, contradict, replace.
 * Pure; the result is the same whatever the order and the batches in which the lines came.
 */

import type { Claim } from '../store/claim.ts';
import type { StoredDay } from '../store/day-block-codec.ts';
import { mergeTimes } from '../store/merge-times.ts';
import { define, inOneOrder, sortedJson } from '../store/sorted-json.ts';
import type { Column } from '../vocabulary/quantities.ts';
import { resolveClaims } from '../vocabulary/resolve-claims.ts';
import { type ClaimBook, createClaimBook } from './claims.ts';
import type { DayGather } from './day-gather.ts';

export interface MergedDay {
  readonly day: StoredDay;
  readonly newClaims: readonly Claim[];
  /** By gathered row, 1 where it brought something new: a key, a value, a contradiction. */
  readonly isNews: Uint8Array;
}

/**
 * @param existing the block as stored, or null
 * @param gather   what came; at least one row
 * @param known    the claims of that source and day
 * @param columns  the columns of the source's kind
 */
export function mergeDay(
  existing: StoredDay | null,
  gather: DayGather,
  known: readonly Claim[],
  columns: readonly Column[],
): MergedDay {
  if (existing === null && gather.isRising && gather.replacing.size === 0) return freshDay(gather);
  const times = gather.times();
  const { tMs, placeOfOld, placeOfRow, isNewTime: isNews } = mergeTimes(existing?.tMs ?? new Float64Array(0), times);
  const book = createClaimBook(known);
  const merged = columns.map((column, index) => {
    const old = existing?.columns[index];
    const came = gather.column(index);
    if (old === undefined && came === undefined) return undefined;
    const values = new Float64Array(tMs.length).fill(Number.NaN);
    if (old !== undefined) for (let i = 0; i < old.length; i++) values[placeOfOld[i]!] = old[i]!;
    if (came !== undefined) claimColumn({ column: column.id, values, came, times, placeOfRow, isNews, gather, book });
    return values;
  });
  const extras = mergeExtras(existing, gather, { times, placeOfOld, placeOfRow, isNews, book });
  return { day: { tMs, columns: merged, extras }, newClaims: book.added, isNews };
}

function freshDay(gather: DayGather): MergedDay {
  const columns = Array.from({ length: gather.columnCount }, (_, index) => gather.column(index));
  return {
    day: {
      tMs: gather.times(),
      columns,
      extras: new Map([...gather.extras].map(([row, values]) => [row, inOneOrder(values)])),
    },
    newClaims: [],
    isNews: new Uint8Array(gather.count).fill(1),
  };
}

interface ColumnClaim {
  readonly column: string;
  readonly values: Float64Array;
  readonly came: Float64Array;
  readonly times: Float64Array;
  readonly placeOfRow: Uint32Array;
  readonly isNews: Uint8Array;
  readonly gather: DayGather;
  readonly book: ClaimBook;
}

function claimColumn({ column, values, came, times, placeOfRow, isNews, gather, book }: ColumnClaim): void {
  // Hardly any day has a line that replaces, and this runs for every value.
  const replacing = gather.replacing.size === 0 ? null : gather.replacing;
  for (let row = 0; row < came.length; row++) {
    const value = came[row]!;
    if (Number.isNaN(value)) continue;
    const place = placeOfRow[row]!;
    const now = values[place]!;
    const t = times[row]!;
    const revision = replacing?.get(row);
    const claims = book.of(t, column);
    if (claims === undefined && revision === undefined) {
      if (now === value) continue;
      if (Number.isNaN(now)) {
        values[place] = value;
        isNews[row] = 1;
        continue;
      }
    }
    // From here on the cell has more to say than one value: every claim of it is written down.
    if (claims === undefined && !Number.isNaN(now)) book.add(plainClaim(t, column, now));
    const claim = {
      t,
      quantity: column,
      value: String(value),
      replaces: revision !== undefined,
      revision: revision ?? 0,
    };
    if (!book.add(claim)) continue;
    isNews[row] = 1;
    const holds = resolveClaims(book.of(t, column)!);
    values[place] = holds === null ? Number.NaN : Number(holds);
  }
}

function plainClaim(t: number, quantity: string, value: number | string): Claim {
  return { t, quantity, value: String(value), replaces: false, revision: 0 };
}

interface ExtrasMerge {
  readonly times: Float64Array;
  readonly placeOfOld: Uint32Array;
  readonly placeOfRow: Uint32Array;
  readonly isNews: Uint8Array;
  readonly book: ClaimBook;
}

/** Keys outside the vocabulary follow the same rule, value by value, compared as JSON with sorted keys. */
function mergeExtras(
  existing: StoredDay | null,
  gather: DayGather,
  merge: ExtrasMerge,
): Map<number, Record<string, unknown>> {
  const { times, placeOfOld, placeOfRow, isNews, book } = merge;
  const extras = new Map<number, Record<string, unknown>>();
  for (const [i, values] of existing?.extras ?? []) extras.set(placeOfOld[i]!, { ...values });
  for (const [row, came] of gather.extras) {
    const place = placeOfRow[row]!;
    const now = extras.get(place) ?? {};
    extras.set(place, now);
    const t = times[row]!;
    const revision = gather.replacing.get(row);
    for (const [key, value] of Object.entries(came)) {
      const text = sortedJson(value);
      const claims = book.of(t, key);
      const nowText = Object.hasOwn(now, key) ? sortedJson(now[key]) : null;
      if (claims === undefined && revision === undefined) {
        if (nowText === text) continue;
        if (nowText === null) {
          define(now, key, value);
          isNews[row] = 1;
          continue;
        }
      }
      if (claims === undefined && nowText !== null) book.add(plainClaim(t, key, nowText));
      if (!book.add({ t, quantity: key, value: text, replaces: revision !== undefined, revision: revision ?? 0 }))
        continue;
      isNews[row] = 1;
      const holds = resolveClaims(book.of(t, key)!);
      if (holds === null) delete now[key];
      else define(now, key, JSON.parse(holds));
    }
    if (Object.keys(now).length === 0) extras.delete(place);
  }
  return new Map([...extras].map(([place, values]) => [place, inOneOrder(values)]));
}
