/** Readings over time for charts, from summaries of days or from the columns asked for. */
import type { BlockHead, ReadingStore } from '../../ingest/store/reading-store.ts';
import { type Column, columnOf, fromStored, type SourceKind } from '../../ingest/vocabulary/quantities.ts';
import { DAY_MS, dayOf, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { Version } from '../contract/scalars.ts';
import type { Series, SeriesAnswer } from '../contract/series.ts';
import { type ColumnCache, type DayHours, rowAt } from './column-cache.ts';

/** Lengths of buckets that people read: they divide a day, or are days. */
const LADDER_MS: readonly number[] = [
  ...[1, 2, 5, 10, 15, 30].map((n) => n * SECOND_MS),
  ...[1, 2, 5, 10, 15, 30].map((n) => n * MINUTE_MS),
  ...[1, 2, 3, 6, 12].map((n) => n * HOUR_MS),
  ...[1, 2, 7, 14, 28].map((n) => n * DAY_MS),
];
/** Longer windows are told by days, whose figures stand beside the blocks: a year is read without decoding any. */
const BY_DAYS_FROM_MS = 93 * DAY_MS;
/** Silence as in formats.md, section 4: six intervals, at least ten minutes. */
const GAP_INTERVALS = 6;
const LEAST_GAP_MS = 10 * MINUTE_MS;

export interface SeriesAsked {
  readonly site: string;
  readonly of: readonly string[];
  readonly from: number;
  readonly to: number;
  readonly points: number;
  /** Interval of the site's record; null where none names it. */
  readonly everyS: number | null;
}

interface OneAsked {
  readonly of: string;
  readonly kind: SourceKind;
  readonly id: string;
  readonly column: Column;
  /** null: the store knows no such source. */
  readonly source: number | null;
}

/** @returns the asked series, or the first text that names no quantity of its kind */
export function readAsked(
  readings: ReadingStore,
  site: string,
  of: readonly string[],
): OneAsked[] | { readonly unknown: string } {
  const sources = readings.sources(site);
  const asked: OneAsked[] = [];
  for (const text of of) {
    const [kind, id, quantity] = text.split('/') as [SourceKind, string, string];
    const column = columnOf(kind, quantity);
    if (column === undefined) return { unknown: text };
    const source = sources.find((one) => one.kind === kind && one.id === id)?.source ?? null;
    asked.push({ of: text, kind, id, column, source });
  }
  return asked;
}

/** The length of a bucket for a window: null asks for every reading. */
export function bucketMs(lengthMs: number, points: number): number {
  const wanted = lengthMs / points;
  const fitting = LADDER_MS.find((step) => step >= wanted) ?? LADDER_MS.at(-1)!;
  return lengthMs > BY_DAYS_FROM_MS ? Math.max(fitting, DAY_MS) : fitting;
}

/** Buckets of a state are the state that stood last in them: a mean of states is none. */
const isState = ({ column }: OneAsked): boolean => column.words !== null;

export function seriesAnswer(
  readings: ReadingStore,
  cache: ColumnCache,
  version: Version,
  { site, from, to, points, everyS }: Omit<SeriesAsked, 'of'>,
  asked: readonly OneAsked[],
): SeriesAnswer {
  const gapMs = Math.max(LEAST_GAP_MS, GAP_INTERVALS * (everyS ?? 0) * SECOND_MS);
  const reads = { readings, cache, site, from, to, gapMs };
  const isEvery = asked.every((one) => countIn(reads, one) <= points);
  const everyMs = isEvery ? null : bucketMs(to - from, points);
  const hours = everyMs !== null && everyMs >= HOUR_MS && everyMs < DAY_MS ? hoursOf(reads, asked) : null;
  const series = asked.map((one): Series => {
    const { of, kind, id, column } = one;
    const look = { of, kind, id, quantity: column.id, decimals: column.decimals, symbol: column.symbol };
    const words = column.words === null ? null : [...column.words];
    if (everyMs === null) return { ...look, words, ...everyReading(reads, one) };
    return { ...look, words, ...bucketValues(one, buckets(reads, one, everyMs, hours), from, everyMs, gapMs) };
  });
  return { ...version, site, from, to, everyMs, gapMs, series };
}

interface Reads {
  readonly readings: ReadingStore;
  readonly cache: ColumnCache;
  readonly site: string;
  readonly from: number;
  readonly to: number;
  readonly gapMs: number;
}

const headsOf = ({ readings, from, to }: Reads, source: number): BlockHead[] =>
  readings.heads(source, dayOf(from), dayOf(to - 1)).filter(({ tLast, tFirst }) => tLast >= from && tFirst < to);

/** Days that are looked into to count: more hold more readings than any chart shows, or so few that the estimate does. */
const COUNTED_DAYS = 3;

/** How many readings of a source lie in the window; over many days those at its edges by their share of the window. */
function countIn(reads: Reads, { source, column }: OneAsked): number {
  if (source === null) return 0;
  const { cache, site, from, to } = reads;
  const heads = headsOf(reads, source);
  if (heads.length <= COUNTED_DAYS) {
    return heads.reduce((sum, head) => {
      const { tMs } = cache.read(site, head, column.index);
      return sum + rowAt(tMs, to) - rowAt(tMs, from);
    }, 0);
  }
  return heads.reduce((sum, { readings: all, tFirst, tLast }) => {
    const inside = Math.min(tLast, to) - Math.max(tFirst, from);
    return sum + (tLast === tFirst ? all : Math.ceil((all * inside) / (tLast - tFirst)));
  }, 0);
}

type Values = Pick<Series, 't' | 'mean' | 'min' | 'max'>;

/** Every reading, with a null where readings are further apart than a gap. */
function everyReading(reads: Reads, { source, column }: OneAsked): Values {
  const { cache, site, from, to, gapMs } = reads;
  const t: number[] = [];
  const mean: (number | null)[] = [];
  if (source === null) return { t, mean };
  let last: number | null = null;
  for (const head of headsOf(reads, source)) {
    const { tMs, values } = cache.read(site, head, column.index);
    if (values === undefined) continue;
    const end = rowAt(tMs, to);
    for (let row = rowAt(tMs, from); row < end; row++) {
      const value = values[row]!;
      // A quantity that is sent on every tenth reading is no gap: its absence is simply not drawn.
      if (Number.isNaN(value)) continue;
      const at = tMs[row]!;
      if (last !== null && at - last > gapMs) {
        t.push(last + 1);
        mean.push(null);
      }
      t.push(at);
      mean.push(fromStored(column.decimals, value));
      last = at;
    }
  }
  return { t, mean };
}

interface Buckets {
  readonly count: Float64Array;
  readonly sum: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  /** Of a state: what stood last. */
  readonly last: Float64Array;
}

type HoursOf = (source: number) => (head: BlockHead, column: number) => DayHours;

/** Figures by the hour of all sources that are asked for, each day decoded once. */
function hoursOf(reads: Reads, asked: readonly OneAsked[]): HoursOf {
  const bySource = new Map<number, number[]>();
  for (const one of asked) {
    if (one.source === null || isState(one)) continue;
    bySource.set(one.source, [...(bySource.get(one.source) ?? []), one.column.index]);
  }
  const made = new Map(
    [...bySource].map(([source, columns]) => [source, reads.cache.hours(reads.site, headsOf(reads, source), columns)]),
  );
  return (source) => made.get(source)!;
}

/** Count, sum, least and greatest of each bucket of [from, to). */
function buckets(reads: Reads, one: OneAsked, everyMs: number, hours: HoursOf | null): Buckets {
  const { cache, site, from, to } = reads;
  const { source, column } = one;
  const first = Math.floor(from / everyMs);
  const length = Math.max(1, Math.ceil(to / everyMs) - first);
  const into: Buckets = {
    count: new Float64Array(length),
    sum: new Float64Array(length),
    min: new Float64Array(length).fill(Number.POSITIVE_INFINITY),
    max: new Float64Array(length).fill(Number.NEGATIVE_INFINITY),
    last: new Float64Array(length),
  };
  if (source === null) return into;
  const placeOf = (t: number): number => Math.floor(t / everyMs) - first;
  if (everyMs >= DAY_MS && !isState(one)) addSummaries(reads, source, column, placeOf, into);
  else if (hours !== null && !isState(one)) {
    for (const head of headsOf(reads, source)) addHours(hours(source)(head, column.index), head.day, placeOf, into);
  } else {
    for (const head of headsOf(reads, source)) {
      const { tMs, values } = cache.read(site, head, column.index);
      if (values !== undefined) addRows(tMs, values, rowAt(tMs, from), rowAt(tMs, to), everyMs, first, into);
    }
  }
  return into;
}

/**
 * Buckets as values. Empty ones are left out, so that a line goes on where readings come more rarely than buckets;
 * where nothing was read for longer than a gap one null breaks it.
 */
function bucketValues(one: OneAsked, into: Buckets, from: number, everyMs: number, gapMs: number): Required<Values> {
  const { column } = one;
  const first = Math.floor(from / everyMs);
  const own = (stored: number): number => fromStored(column.decimals, stored);
  // One decimal more than is stored says the mean well enough, and keeps the answer short.
  const digits = 10 ** (column.decimals + 1);
  const [t, mean, min, max] = [[], [], [], []] as [number[], (number | null)[], (number | null)[], (number | null)[]];
  let before = -1;
  for (let i = 0; i < into.count.length; i++) {
    const count = into.count[i]!;
    if (count === 0) continue;
    if (before >= 0 && (i - before - 1) * everyMs > gapMs) {
      t.push((first + before + 1) * everyMs);
      for (const list of [mean, min, max]) list.push(null);
    }
    t.push((first + i) * everyMs);
    mean.push(isState(one) ? own(into.last[i]!) : Math.round(own(into.sum[i]! / count) * digits) / digits);
    min.push(own(into.min[i]!));
    max.push(own(into.max[i]!));
    before = i;
  }
  return { t, mean, min, max };
}

function addSummaries(
  { readings, from, to }: Reads,
  source: number,
  column: Column,
  placeOf: (t: number) => number,
  { count, sum, min, max }: Buckets,
): void {
  for (const { day, columns } of readings.summaries(source, dayOf(from), dayOf(to - 1))) {
    const own = columns.find((one) => one.column === column.index);
    const place = placeOf(day);
    if (own === undefined || own.count === 0 || place < 0 || place >= count.length) continue;
    count[place]! += own.count;
    sum[place]! += own.sum;
    min[place] = Math.min(min[place]!, own.min);
    max[place] = Math.max(max[place]!, own.max);
  }
}

/** The hours of a day that lie in the window; those at its edges count whole. */
function addHours(hours: DayHours, day: number, placeOf: (t: number) => number, into: Buckets): void {
  for (let hour = 0; hour < hours.count.length; hour++) {
    const place = placeOf(day + hour * HOUR_MS);
    if (hours.count[hour] === 0 || place < 0 || place >= into.count.length) continue;
    into.count[place]! += hours.count[hour]!;
    into.sum[place]! += hours.sum[hour]!;
    into.min[place] = Math.min(into.min[place]!, hours.min[hour]!);
    into.max[place] = Math.max(into.max[place]!, hours.max[hour]!);
  }
}

/** Rows [from, to) in rising time: the bucket moves on only where its end is passed. */
function addRows(
  tMs: Float64Array,
  values: Float64Array,
  fromRow: number,
  toRow: number,
  everyMs: number,
  first: number,
  { count, sum, min, max, last }: Buckets,
): void {
  let place = -1;
  let until = Number.NEGATIVE_INFINITY;
  for (let row = fromRow; row < toRow; row++) {
    const value = values[row]!;
    if (Number.isNaN(value)) continue;
    const t = tMs[row]!;
    if (t >= until) {
      const bucket = Math.floor(t / everyMs);
      place = bucket - first;
      until = (bucket + 1) * everyMs;
    }
    count[place]!++;
    sum[place]! += value;
    last[place] = value;
    if (value < min[place]!) min[place] = value;
    if (value > max[place]!) max[place] = value;
  }
}
