/** Decoded columns of day blocks, the newest used kept: zooming asks for the same days again and again. */
import type { BlockHead, ReadingStore } from '../../ingest/store/reading-store.ts';

/** One column of one source on one day, in stored integers; NaN where absent. */
export interface DayColumn {
  readonly tMs: Float64Array;
  /** undefined: the quantity was not sent that day. */
  readonly values: Float64Array | undefined;
}

export interface ColumnCache {
  read(head: BlockHead, column: number): DayColumn;
}

/** 64 MB: with times shared by the columns of a day, about 500 days of one column at 10 s. */
const KEPT_BYTES = 64 * 1024 * 1024;
const VALUE_BYTES = 8;

export function createColumnCache(readings: ReadingStore, keptBytes = KEPT_BYTES): ColumnCache {
  const kept = new Map<string, DayColumn>();
  let bytes = 0;
  const sizeOf = ({ tMs, values }: DayColumn): number => VALUE_BYTES * (tMs.length + (values?.length ?? 0));
  return {
    read(head, column) {
      // A day that got more readings is another day.
      const key = `${head.source} ${head.day} ${column} ${head.readings} ${head.tLast} ${head.tFirst}`;
      const own = kept.get(key);
      if (own !== undefined) {
        kept.delete(key);
        kept.set(key, own);
        return own;
      }
      const [block] = [
        ...readings.readBlocks(head.source, head.day, head.day, { columns: new Set([column]), extras: false }),
      ];
      const read: DayColumn = { tMs: block?.tMs ?? new Float64Array(0), values: block?.columns[column] };
      kept.set(key, read);
      bytes += sizeOf(read);
      for (const [oldest, day] of kept) {
        if (bytes <= keptBytes) break;
        kept.delete(oldest);
        bytes -= sizeOf(day);
      }
      return read;
    },
  };
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
