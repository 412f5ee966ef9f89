/**
 * The readings of one source on one UTC day as one blob, and its summary as another.
 * Layout in DEVELOPERS.md, "The block format": version, count, a directory of columns, then the columns,
 * so that one column is read without touching the others.
 */
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import { DAY_MS } from '../vocabulary/time.ts';
import { createByteReader, createByteWriter } from './byte-writer.ts';
import { type ColumnFigures, decodeColumn, encodeColumn, figuresOf } from './column-codec.ts';

const VERSION = 1;
const TIME = 255;
const EXTRAS = 254;

/** Keys outside the vocabulary, kept with their reading. */
export type Extras = ReadonlyMap<number, Readonly<Record<string, unknown>>>;

/** The readings of one source on one day, as stored: strictly rising times, stored integers, NaN where absent. */
export interface StoredDay {
  /** Epoch ms, strictly rising, all of one UTC day. */
  readonly tMs: Float64Array;
  /** By column index of the source's kind; undefined where no reading has the quantity. */
  readonly columns: readonly (Float64Array | undefined)[];
  /** By place of the reading. */
  readonly extras: Extras;
}

/** Figures of one column of one block, in stored integers. */
export interface ColumnSummary extends ColumnFigures {
  readonly column: number;
}

const out = createByteWriter(65_536);

/** Encodes a day. Columns without any value are left out. @throws RangeError if there is no reading */
export function encodeDay(day: StoredDay): { data: Uint8Array; summary: Uint8Array } {
  const count = day.tMs.length;
  if (count === 0) throw new RangeError('Cannot encode a day without readings');
  const midnight = Math.floor(day.tMs[0]! / DAY_MS) * DAY_MS;
  const parts: { tag: number; bytes: Uint8Array }[] = [
    { tag: TIME, bytes: encodeColumn(day.tMs.map((t) => t - midnight)) },
  ];
  const summaries = summarize(day);
  for (const figures of summaries) {
    parts.push({ tag: figures.column, bytes: encodeColumn(day.columns[figures.column]!, figures) });
  }
  if (day.extras.size > 0) {
    const sorted = [...day.extras].sort((a, b) => a[0] - b[0]);
    parts.push({ tag: EXTRAS, bytes: deflateRawSync(JSON.stringify(sorted)) });
  }
  out.reset();
  out.byte(VERSION);
  out.varint(count);
  out.varint(parts.length);
  for (const { tag, bytes } of parts) {
    out.byte(tag);
    out.varint(bytes.length);
  }
  for (const { bytes } of parts) out.bytes(bytes);
  const data = out.take();
  return { data, summary: encodeSummary(summaries) };
}

/** The figures of a day's columns, as its block will keep them. */
export function summarize({ columns }: StoredDay): ColumnSummary[] {
  const summaries: ColumnSummary[] = [];
  columns.forEach((values, column) => {
    if (values === undefined) return;
    const { count, min, max, sum } = figuresOf(values);
    // The sum of a day of 15-digit counters can pass 2^53; the mean of such a column is then a rounding off.
    const kept = Math.max(-Number.MAX_SAFE_INTEGER, Math.min(Number.MAX_SAFE_INTEGER, Math.round(sum)));
    if (count > 0) summaries.push({ column, count, min, max, sum: kept });
  });
  return summaries;
}

function encodeSummary(summaries: readonly ColumnSummary[]): Uint8Array {
  out.reset();
  out.byte(VERSION);
  out.varint(summaries.length);
  for (const { column, count, min, max, sum } of summaries) {
    out.byte(column);
    out.varint(count);
    out.signed(min);
    out.varint(max - min);
    out.signed(sum);
  }
  return out.take();
}

/** The summaries of a block, in order of column. */
export function decodeSummary(bytes: Uint8Array): ColumnSummary[] {
  const reader = createByteReader(bytes);
  checkVersion(reader.byte());
  const count = reader.varint();
  return Array.from({ length: count }, () => {
    const column = reader.byte();
    const values = reader.varint();
    const min = reader.signed();
    const max = min + reader.varint();
    return { column, count: values, min, max, sum: reader.signed() };
  });
}

/** One column of a decoded block. */
export interface DecodedDay {
  readonly tMs: Float64Array;
  /** By column index; undefined where absent all day or not asked for. */
  readonly columns: (Float64Array | undefined)[];
  readonly extras: Extras;
}

export interface AskedOfDay {
  /** Column indexes to decode; absent: all. */
  readonly columns?: ReadonlySet<number>;
  /** By column index, 10^decimals to get the quantity's own unit; absent: stored integers. */
  readonly divisors?: readonly number[];
  readonly extras?: boolean;
}

/**
 * Decodes a block, or the columns asked for.
 *
 * @param midnightMs the block's day
 */
export function decodeDay(data: Uint8Array, midnightMs: number, asked: AskedOfDay = {}): DecodedDay {
  const reader = createByteReader(data);
  checkVersion(reader.byte());
  const count = reader.varint();
  const parts = Array.from({ length: reader.varint() }, () => ({ tag: reader.byte(), bytes: reader.varint() }));
  let timeBytes: Uint8Array = new Uint8Array(0);
  let extras: Extras = new Map();
  const columns: (Float64Array | undefined)[] = [];
  for (const { tag, bytes: length } of parts) {
    const bytes = reader.bytes(length);
    if (tag === TIME) {
      timeBytes = bytes;
    } else if (tag === EXTRAS) {
      if (asked.extras !== false) extras = new Map(JSON.parse(inflateRawSync(bytes).toString('utf8')));
    } else if (asked.columns === undefined || asked.columns.has(tag)) {
      columns[tag] = decodeColumn(bytes, count, asked.divisors?.[tag] ?? 1);
    }
  }
  let tMs: Float64Array | null = null;
  return {
    // Times are the largest column and sums need none, so they are decoded when first looked at.
    get tMs() {
      tMs ??= decodeColumn(timeBytes, count).map((t) => t + midnightMs);
      return tMs;
    },
    columns,
    extras,
  };
}

function checkVersion(version: number): void {
  if (version !== VERSION) {
    throw new RangeError(`Cannot read a block of version ${version}: this program knows version ${VERSION}`);
  }
}
