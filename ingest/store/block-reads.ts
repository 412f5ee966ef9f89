/** Reads what is stored of a source, a day at a time: its blocks, and over them what came live and is not sealed yet. */
import type { SourceKind } from '../vocabulary/quantities.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import type { Claim } from './claim.ts';
import {
  type AskedOfDay,
  type ColumnSummary,
  type DecodedDay,
  decodeDay,
  decodeSummary,
  summarize,
} from './day-block-codec.ts';
import { type Journal, journalOf } from './journal.ts';
import type { UnsealedDay } from './journal-tail.ts';
import { mergeTimes } from './merge-times.ts';
import type { Db } from './open-store.ts';
import { overlayDay } from './overlay-day.ts';

/** A source's day without its readings. day: midnight, epoch ms. */
export interface BlockHead {
  readonly source: number;
  readonly day: number;
  readonly readings: number;
  readonly tFirst: number;
  readonly tLast: number;
}

export interface BlockReads {
  readBlock(source: number, dayMs: number): DecodedDay | null;
  /** Each day that touches [fromDayMs, toDayMs], in order; only the columns asked for, in their own units by divisor. */
  readBlocks(source: number, fromDayMs: number, toDayMs: number, asked?: AskedOfDay): Iterable<DecodedDay>;
  /** The times of a day, or null where nothing is stored of it. */
  readTimes(source: number, dayMs: number): Float64Array | null;
  heads(source: number, fromDayMs: number, toDayMs: number): BlockHead[];
  summaries(
    source: number,
    fromDayMs: number,
    toDayMs: number,
  ): (Omit<BlockHead, 'source'> & { readonly columns: ColumnSummary[] })[];
  newestReading(source: number): number | null;
}

const SQL = {
  block: 'SELECT data FROM blocks WHERE source = ? AND day = ?',
  blocks: 'SELECT day, data FROM blocks WHERE source = ? AND day >= ? AND day <= ? ORDER BY day',
  heads: `SELECT source, day, readings, t_first AS tFirst, t_last AS tLast FROM blocks
    WHERE source = ? AND day >= ? AND day <= ? ORDER BY day`,
  summaries: `SELECT source, day, readings, t_first AS tFirst, t_last AS tLast, summary FROM blocks
    WHERE source = ? AND day >= ? AND day <= ? ORDER BY day`,
  newest: 'SELECT t_last AS t FROM blocks WHERE source = ? ORDER BY day DESC LIMIT 1',
} as const;

const NO_COLUMNS: AskedOfDay = { columns: new Set<number>(), extras: false };

const dayNumber = (dayMs: number): number => Math.round(dayMs / DAY_MS);

/** A day of a source as it is put together when somebody looks at it. */
interface Layer<Row> {
  readonly day: number;
  readonly row: Row | undefined;
  readonly unsealed: UnsealedDay | undefined;
}

/** @param claimsOf the claims of a source with from ≤ t < to */
export function createBlockReads(
  db: Db,
  claimsOf: (source: number, from: number, to: number) => readonly Claim[],
): BlockReads {
  const journal = journalOf(db);
  const block = db.prepare<[number, number], { data: Uint8Array }>(SQL.block);
  const blocks = db.prepare<[number, number, number], { day: number; data: Uint8Array }>(SQL.blocks);
  const heads = db.prepare<[number, number, number], BlockHead>(SQL.heads);
  const summaries = db.prepare<[number, number, number], BlockHead & { summary: Uint8Array }>(SQL.summaries);
  const newest = db.prepare<[number], { t: number }>(SQL.newest);

  const dataOf = (source: number, day: number): Uint8Array | undefined => block.get(source, day)?.data;
  const kindOf = (source: number): SourceKind => journal.ownerOf(source).kind;

  function laid(
    source: number,
    day: number,
    data: Uint8Array | undefined,
    unsealed: UnsealedDay | undefined,
    asked: AskedOfDay,
  ): DecodedDay | null {
    const dayMs = day * DAY_MS;
    if (unsealed === undefined) return data === undefined ? null : decodeDay(data, dayMs, asked);
    const { divisors, ...parts } = asked;
    const { tMs, columns, extras } = overlayDay({
      kind: kindOf(source),
      block: data === undefined ? null : decodeDay(data, dayMs, parts),
      unsealed,
      claims: claimsOf(source, dayMs, dayMs + DAY_MS),
      ...parts,
    });
    const own = columns.map((values, index) => inOwnUnit(values, divisors?.[index] ?? 1));
    return { tMs, columns: own, extras };
  }

  function timesOf(source: number, day: number, unsealed: UnsealedDay | undefined): Float64Array | null {
    const data = dataOf(source, day);
    const stored = data === undefined ? null : decodeDay(data, day * DAY_MS, NO_COLUMNS).tMs;
    return unsealed === undefined ? stored : mergeTimes(stored ?? new Float64Array(0), unsealed.tMs).tMs;
  }

  function headOf(source: number, { day, row, unsealed }: Layer<BlockHead>): BlockHead {
    if (unsealed === undefined) {
      const { readings, tFirst, tLast } = row!;
      return { source, day: day * DAY_MS, readings, tFirst, tLast };
    }
    const isBehind = unsealed.isRising && (row === undefined || unsealed.tFirst > row.tLast);
    return {
      source,
      day: day * DAY_MS,
      readings: isBehind ? (row?.readings ?? 0) + unsealed.tMs.length : timesOf(source, day, unsealed)!.length,
      tFirst: Math.min(unsealed.tFirst, row?.tFirst ?? unsealed.tFirst),
      tLast: Math.max(unsealed.tLast, row?.tLast ?? unsealed.tLast),
    };
  }

  return {
    readBlock(source, dayMs) {
      const day = dayNumber(dayMs);
      const unsealed = journal.follow().day(source, day);
      return laid(source, day, dataOf(source, day), unsealed, {});
    },
    *readBlocks(source, from, to, asked = {}) {
      for (const { day, row, unsealed } of layersOf(journal, source, from, to, (...span) => blocks.all(...span))) {
        yield laid(source, day, row?.data, unsealed, asked)!;
      }
    },
    readTimes(source, dayMs) {
      const day = dayNumber(dayMs);
      return timesOf(source, day, journal.follow().day(source, day));
    },
    heads: (source, from, to) =>
      layersOf(journal, source, from, to, (...span) => heads.all(...span)).map((layer) => headOf(source, layer)),
    summaries: (source, from, to) =>
      layersOf(journal, source, from, to, (...span) => summaries.all(...span)).map((layer) => {
        const { source: _, ...head } = headOf(source, layer);
        if (layer.unsealed === undefined) return { ...head, columns: decodeSummary(layer.row!.summary) };
        return { ...head, columns: summarize(laid(source, layer.day, dataOf(source, layer.day), layer.unsealed, {})!) };
      }),
    newestReading(source) {
      const unsealed = journal.follow().newest(source);
      const stored = newest.get(source)?.t ?? null;
      return unsealed === null ? stored : Math.max(unsealed, stored ?? unsealed);
    },
  };
}

/** The days of a span, each as block row, journal or both. The journal is looked at first: see `Journal.follow`. */
function layersOf<Row extends { readonly day: number }>(
  journal: Journal,
  source: number,
  from: number,
  to: number,
  rowsOf: (source: number, from: number, to: number) => readonly Row[],
): readonly Layer<Row>[] {
  const [first, last] = [dayNumber(from), dayNumber(to)];
  const tail = journal.follow();
  const days = tail.days(source).filter((day) => day >= first && day <= last);
  const unsealed = new Map(days.map((day) => [day, tail.day(source, day)]));
  const rows = rowsOf(source, first, last);
  if (unsealed.size === 0) return rows.map((row) => ({ day: row.day, row, unsealed: undefined }));
  const byDay = new Map(rows.map((row) => [row.day, row]));
  const all = [...new Set([...byDay.keys(), ...unsealed.keys()])].sort((a, b) => a - b);
  return all.map((day) => ({ day, row: byDay.get(day), unsealed: unsealed.get(day) }));
}

/** As decoding does it, value by value. */
function inOwnUnit(values: Float64Array | undefined, divisor: number): Float64Array | undefined {
  if (values === undefined || divisor === 1) return values;
  for (let i = 0; i < values.length; i++) values[i]! /= divisor;
  return values;
}
