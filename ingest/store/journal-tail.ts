/** What stands in the journal and in no block yet, in memory, by source and day: where in which blob each reading is. */
import { DAY_MS } from '../vocabulary/time.ts';
import { type ExtraObject, eachJournalValue, type JournalRows, readJournalBlob } from './journal-blob.ts';

const FIRST_CAPACITY = 16;
const GROWTH = 1.5;

/** The unsealed readings of one source and UTC day as they stood when it was asked for; it does not change. */
export interface UnsealedDay {
  readonly source: number;
  /** Days since 1970. */
  readonly day: number;
  /** In order of arrival; a time may occur more than once. */
  readonly tMs: Float64Array;
  /** Whether times are strictly rising. */
  readonly isRising: boolean;
  readonly tFirst: number;
  readonly tLast: number;
  /** Visits the values of a row. @returns its keys outside the vocabulary, or null */
  eachValue(row: number, visit: (column: number, value: number) => void): ExtraObject | null;
}

/** A source and day with unsealed readings, and the newest change among them. */
export interface UnsealedMark {
  readonly source: number;
  /** Days since 1970. */
  readonly day: number;
  readonly change: number;
}

interface Blob {
  readonly change: number;
  readonly bytes: Uint8Array;
  /** Null until somebody looks at a reading. */
  rows: JournalRows | null;
}

/** Rows of one source and day. A class of typed arrays, because there are a million rows an hour in a large fleet. */
class DayRows {
  readonly source: number;
  readonly day: number;
  count = 0;
  change = 0;
  isRising = true;
  tFirst = Number.POSITIVE_INFINITY;
  tLast = Number.NEGATIVE_INFINITY;
  tMs = new Float64Array(FIRST_CAPACITY);
  /** Number of the blob, counted since the tail was empty. */
  blob = new Uint32Array(FIRST_CAPACITY);
  /** Place of the reading in it. */
  at = new Uint32Array(FIRST_CAPACITY);

  constructor(source: number, day: number) {
    this.source = source;
    this.day = day;
  }

  push(t: number, blob: number, at: number): void {
    if (this.count === this.tMs.length) this.#resize(0, Math.ceil(this.count * GROWTH));
    this.tMs[this.count] = t;
    this.blob[this.count] = blob;
    this.at[this.count] = at;
    this.count++;
    this.#look(t);
  }

  /** Forgets the rows of blobs before one. */
  dropBefore(blob: number): void {
    let gone = 0;
    while (gone < this.count && this.blob[gone]! < blob) gone++;
    if (gone === 0) return;
    this.#resize(gone, Math.max(FIRST_CAPACITY, this.count - gone));
    this.count -= gone;
    this.isRising = true;
    this.tFirst = Number.POSITIVE_INFINITY;
    this.tLast = Number.NEGATIVE_INFINITY;
    for (let row = 0; row < this.count; row++) this.#look(this.tMs[row]!);
  }

  #look(t: number): void {
    if (t <= this.tLast) this.isRising = false;
    if (t < this.tFirst) this.tFirst = t;
    if (t > this.tLast) this.tLast = t;
  }

  #resize(from: number, capacity: number): void {
    this.tMs = resized(this.tMs.subarray(from, this.count), new Float64Array(capacity));
    this.blob = resized(this.blob.subarray(from, this.count), new Uint32Array(capacity));
    this.at = resized(this.at.subarray(from, this.count), new Uint32Array(capacity));
  }
}

function resized<A extends Float64Array | Uint32Array>(from: A, to: A): A {
  to.set(from);
  return to;
}

export class JournalTail {
  /** Change number of the newest blob. */
  last = 0;
  /** Of all blobs. */
  bytes = 0;
  readonly #blobs = new Map<number, Blob>();
  #first = 0;
  #next = 0;
  /** Blobs before it have their readings placed. */
  #looked = 0;
  /** By source, then by day. */
  readonly #sources = new Map<number, Map<number, DayRows>>();

  get isEmpty(): boolean {
    return this.#blobs.size === 0;
  }

  /** @param rows what stands in the bytes, where it is known already */
  add(change: number, bytes: Uint8Array, rows: JournalRows | null): void {
    this.#blobs.set(this.#next++, { change, bytes, rows });
    this.bytes += bytes.length;
    this.last = change;
  }

  /** Finds the place of each reading that came since; not when it comes, because then somebody waits for an answer. */
  #look(): void {
    for (; this.#looked < this.#next; this.#looked++) {
      const blob = this.#blobs.get(this.#looked)!;
      blob.rows ??= readJournalBlob(blob.bytes);
      this.#place(this.#looked, blob.change, blob.rows);
    }
  }

  #place(blob: number, change: number, { count, source, tMs }: JournalRows): void {
    let days: Map<number, DayRows> | undefined;
    let rows: DayRows | undefined;
    for (let row = 0; row < count; row++) {
      const t = tMs[row]!;
      const day = Math.floor(t / DAY_MS);
      if (rows === undefined || rows.source !== source[row] || rows.day !== day) {
        days = this.#sources.get(source[row]!);
        if (days === undefined) {
          days = new Map();
          this.#sources.set(source[row]!, days);
        }
        rows = days.get(day);
        if (rows === undefined) {
          rows = new DayRows(source[row]!, day);
          days.set(day, rows);
        }
        rows.change = change;
      }
      rows.push(t, blob, row);
    }
  }

  /** Forgets blobs with change numbers below one: their readings stand in blocks. */
  dropBefore(change: number): void {
    const from = this.#first;
    const oldest = this.#blobs.get(from);
    if (oldest === undefined || oldest.change >= change) return;
    this.#look();
    for (; this.#first < this.#next; this.#first++) {
      const blob = this.#blobs.get(this.#first)!;
      if (blob.change >= change) break;
      this.#blobs.delete(this.#first);
      this.bytes -= blob.bytes.length;
    }
    for (const [source, days] of this.#sources) {
      for (const [day, rows] of days) {
        rows.dropBefore(this.#first);
        if (rows.count === 0) days.delete(day);
      }
      if (days.size === 0) this.#sources.delete(source);
    }
    if (this.isEmpty) this.clear();
  }

  clear(): void {
    this.#blobs.clear();
    this.#sources.clear();
    this.bytes = 0;
    this.#first = 0;
    this.#next = 0;
    this.#looked = 0;
  }

  /** The time of the newest unsealed reading of a source, or null. */
  newest(source: number): number | null {
    this.#look();
    const days = this.#sources.get(source);
    if (days === undefined) return null;
    let newest = Number.NEGATIVE_INFINITY;
    for (const { tLast } of days.values()) if (tLast > newest) newest = tLast;
    return newest;
  }

  /** Numbers of the days on which a source has unsealed readings, rising. */
  days(source: number): number[] {
    this.#look();
    return [...(this.#sources.get(source)?.keys() ?? [])].sort((a, b) => a - b);
  }

  day(source: number, day: number): UnsealedDay | undefined {
    this.#look();
    const rows = this.#sources.get(source)?.get(day);
    if (rows === undefined) return undefined;
    const { count, isRising, tFirst, tLast } = rows;
    const at = rows.at.slice(0, count);
    const blobs = Array.from({ length: count }, (_, row) => this.#blobs.get(rows.blob[row]!)!.rows!);
    return {
      source,
      day,
      tMs: rows.tMs.slice(0, count),
      isRising,
      tFirst,
      tLast,
      eachValue: (row, visit) => eachJournalValue(blobs[row]!, at[row]!, visit),
    };
  }

  *marks(): Iterable<UnsealedMark> {
    this.#look();
    for (const days of this.#sources.values())
      for (const { source, day, change } of days.values()) yield { source, day, change };
  }

  marksOf(source: number): UnsealedMark[] {
    this.#look();
    return [...(this.#sources.get(source)?.values() ?? [])].map(({ day, change }) => ({ source, day, change }));
  }
}
