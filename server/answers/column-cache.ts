/** Decoded columns of days and their figures by the hour, the newest used kept: zooming asks for the same days again and again. */
import type { BlockHead, ReadingStore } from '../../ingest/store/reading-store.ts';
import { HOUR_MS } from '../../ingest/vocabulary/time.ts';

/** One column of one source on one day, in stored integers; NaN where absent. */
export interface DayColumn {
  readonly tMs: Float64Array;
  /** undefined: the quantity was not sent that day. */
  readonly values: Float64Array | undefined;
}

/** One column of one source on one day, by the hour of UTC: 24 of each. Least and greatest are infinite where count is 0. */
export interface DayHours {
  readonly count: Float64Array;
  readonly sum: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
}

type Readings = Pick<ReadingStore, 'readBlocks' | 'change' | 'firstChangedDay'>;

export interface ColumnCache {
  read(site: string, head: BlockHead, column: number): DayColumn;
  /** Figures by the hour of each day and column asked for; days are decoded once for all columns, and not kept. */
  hours(
    site: string,
    heads: readonly BlockHead[],
    columns: readonly number[],
  ): (head: BlockHead, column: number) => DayHours;
}

/** 64 MB: with times shared by the columns of a day, about 500 days of one column at 10 s. */
const KEPT_BYTES = 64 * 1024 * 1024;
const VALUE_BYTES = 8;
const HOURS = 24;
/** 16 MB, or 20,000 days of a column. */
const KEPT_HOURS = 20_000;

interface Kept<Value> {
  readonly value: Value;
  readonly bytes: number;
  /** Change number up to which it is known to hold. */
  upTo: number;
}

/** Values by key, the oldest used dropped. */
function keeper<Value>(
  most: number,
  isSame: (site: string, day: number, upTo: number) => boolean,
  change: () => number,
) {
  const kept = new Map<string, Kept<Value>>();
  let bytes = 0;
  const drop = (key: string): void => {
    bytes -= kept.get(key)?.bytes ?? 0;
    kept.delete(key);
  };
  return {
    get(key: string, site: string, day: number): Value | undefined {
      const own = kept.get(key);
      if (own === undefined) return undefined;
      const now = change();
      if (own.upTo !== now) {
        if (!isSame(site, day, own.upTo)) {
          drop(key);
          return undefined;
        }
        own.upTo = now;
      }
      kept.delete(key);
      kept.set(key, own);
      return own.value;
    },
    put(key: string, value: Value, size: number): void {
      drop(key);
      kept.set(key, { value, bytes: size, upTo: change() });
      bytes += size;
      for (const oldest of kept.keys()) {
        if (bytes <= most) break;
        drop(oldest);
      }
    },
  };
}

/** Whether nothing of a site's day changed since a change number: asked once for each number. */
function sameDays(readings: Readings) {
  let at = -1;
  const first = new Map<string, number | null>();
  return (site: string, day: number, upTo: number): boolean => {
    const change = readings.change();
    if (change !== at) first.clear();
    at = change;
    const key = `${site} ${upTo}`;
    let changed = first.get(key);
    if (changed === undefined) {
      changed = readings.firstChangedDay(site, upTo);
      first.set(key, changed);
    }
    return changed === null || changed > day;
  };
}

export function createColumnCache(readings: Readings, keptBytes = KEPT_BYTES): ColumnCache {
  const isSame = sameDays(readings);
  const change = (): number => readings.change();
  const columnsOf = keeper<DayColumn>(keptBytes, isSame, change);
  const hoursOf = keeper<DayHours>(KEPT_HOURS, isSame, change);
  const keyOf = ({ source, day }: BlockHead, column: number): string => `${source} ${day} ${column}`;
  return {
    read(site, head, column) {
      const key = keyOf(head, column);
      const own = columnsOf.get(key, site, head.day);
      if (own !== undefined) return own;
      const [block] = [
        ...readings.readBlocks(head.source, head.day, head.day, { columns: new Set([column]), extras: false }),
      ];
      const read: DayColumn = { tMs: block?.tMs ?? new Float64Array(0), values: block?.columns[column] };
      columnsOf.put(key, read, VALUE_BYTES * (read.tMs.length + (read.values?.length ?? 0)));
      return read;
    },
    hours(site, heads, columns) {
      const found = new Map<string, DayHours>();
      const missing = heads.filter((head) =>
        columns.some((column) => {
          const own = hoursOf.get(keyOf(head, column), site, head.day);
          if (own !== undefined) found.set(keyOf(head, column), own);
          return own === undefined;
        }),
      );
      for (const head of missing) {
        const asked = { columns: new Set(columns), extras: false };
        for (const { tMs, columns: values } of readings.readBlocks(head.source, head.day, head.day, asked)) {
          for (const column of columns) {
            const made = hoursOfDay(head.day, tMs, values[column]);
            hoursOf.put(keyOf(head, column), made, 1);
            found.set(keyOf(head, column), made);
          }
        }
      }
      return (head, column) => found.get(keyOf(head, column)) ?? noHours();
    },
  };
}

const noHours = (): DayHours => ({
  count: new Float64Array(HOURS),
  sum: new Float64Array(HOURS),
  min: new Float64Array(HOURS).fill(Number.POSITIVE_INFINITY),
  max: new Float64Array(HOURS).fill(Number.NEGATIVE_INFINITY),
});

function hoursOfDay(day: number, tMs: Float64Array, values: Float64Array | undefined): DayHours {
  const hours = noHours();
  if (values === undefined) return hours;
  const { count, sum, min, max } = hours;
  for (let row = 0; row < tMs.length; row++) {
    const value = values[row]!;
    if (Number.isNaN(value)) continue;
    const hour = Math.floor((tMs[row]! - day) / HOUR_MS);
    count[hour]!++;
    sum[hour]! += value;
    if (value < min[hour]!) min[hour] = value;
    if (value > max[hour]!) max[hour] = value;
  }
  return hours;
}

/** First row at or after t in rising times. */
export function rowAt(tMs: Float64Array, t: number): number {
  let [low, high] = [0, tMs.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (tMs[middle]! < t) low = middle + 1;
    else high = middle;
  }
  return low;
}
