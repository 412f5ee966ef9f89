/** The readings of one source, a day at a time, so that a year takes no more memory than a day. */
import type { BlockHead, ReadingStore } from '../store/reading-store.ts';
import { COLUMNS, type Column, type SourceKind } from '../vocabulary/quantities.ts';
import { DAY_MS, dayOf } from '../vocabulary/time.ts';
import type { Figures, IntervalInput } from './interval-figures.ts';
import type { ReadingRow } from './reading-lines.ts';

/** What is asked of a source: readings with from ≤ t < to. */
export interface AskedReadings {
  readonly source: number;
  readonly columns: readonly Column[];
  readonly from: number;
  readonly to: number;
}

function headsIn(store: ReadingStore, { source, from, to }: Omit<AskedReadings, 'columns'>): BlockHead[] {
  return to <= from
    ? []
    : store.heads(source, dayOf(from), dayOf(to - 1)).filter((head) => head.tLast >= from && head.tFirst < to);
}

/** First row at or after t. */
function rowAt(tMs: Float64Array, t: number): number {
  const at = tMs.findIndex((one) => one >= t);
  return at < 0 ? tMs.length : at;
}

/** The columns of a kind that have a value in the time asked for, to the day. */
export function columnsPresent(
  store: ReadingStore,
  kind: SourceKind,
  asked: Omit<AskedReadings, 'columns'>,
): readonly Column[] {
  const present = new Set(
    headsIn(store, asked).flatMap(({ source, day }) =>
      store.summaries(source, day, day).flatMap(({ columns }) => columns.map(({ column }) => column)),
    ),
  );
  return COLUMNS[kind].filter(({ index }) => present.has(index));
}

/** One day's readings at a time, in order. */
export function* readingDays(
  store: ReadingStore,
  { source, columns, from, to }: AskedReadings,
  withExtras: boolean,
): Iterable<readonly ReadingRow[]> {
  const indexes = new Set(columns.map(({ index }) => index));
  const divisors: number[] = [];
  for (const { index, decimals } of columns) divisors[index] = 10 ** decimals;
  for (const { day } of headsIn(store, { source, from, to })) {
    for (const block of store.readBlocks(source, day, day, { columns: indexes, divisors, extras: withExtras })) {
      const rows: ReadingRow[] = [];
      const end = rowAt(block.tMs, to);
      for (let row = rowAt(block.tMs, from); row < end; row++) {
        rows.push({
          t: block.tMs[row]!,
          values: columns.map(({ index }) => block.columns[index]?.[row] ?? Number.NaN),
          extras: block.extras.get(row),
        });
      }
      yield rows;
    }
  }
}

/**
 * What intervals are made of. A day that lies whole in one interval comes as the figures kept with its block, where
 * they are the same to the last digit.
 */
export function* intervalInputs(
  store: ReadingStore,
  { source, columns, from, to }: AskedReadings,
  everyMs: number,
): Iterable<IntervalInput> {
  const indexes = new Set(columns.map(({ index }) => index));
  for (const { day, tFirst, tLast } of headsIn(store, { source, from, to })) {
    const isWhole = everyMs % DAY_MS === 0 && tFirst >= from && tLast < to;
    const kept = isWhole ? keptFigures(store, source, day, columns) : null;
    if (kept !== null) {
      yield { t: tFirst, figures: kept };
      continue;
    }
    for (const block of store.readBlocks(source, day, day, { columns: indexes, extras: false })) {
      yield {
        tMs: block.tMs,
        first: rowAt(block.tMs, from),
        end: rowAt(block.tMs, to),
        columns: columns.map(({ index }) => block.columns[index]),
      };
    }
  }
}

/** The figures kept with a block; null where a sum on the way to them may have been rounded. */
function keptFigures(
  store: ReadingStore,
  source: number,
  day: number,
  columns: readonly Column[],
): (Figures | null)[] | null {
  const summary = store.summaries(source, day, day)[0];
  if (summary === undefined) return null;
  const byColumn = new Map(summary.columns.map((one) => [one.column, one]));
  const figures = columns.map(({ index }) => byColumn.get(index) ?? null);
  const isExact = figures.every(
    (one) => one === null || one.count * Math.max(Math.abs(one.min), Math.abs(one.max)) <= Number.MAX_SAFE_INTEGER,
  );
  return isExact ? figures : null;
}
