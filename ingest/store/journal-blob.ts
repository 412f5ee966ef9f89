/**
 * The readings of one live transaction as one blob: a version, the number of readings, the shapes (which columns, in
 * which order), a directory (source, time, shape and length of each reading, as differences to the one before), then
 * the values as variable-length integers. Row by row, because a live transaction holds few readings of many sources:
 * there is no column to be packed.
 */
import { createByteReader, createByteWriter } from './byte-writer.ts';

const VERSION = 1;
/** Longest value: ten bytes; longest entry of the directory: four numbers. */
const VALUE_BYTES = 10;
const ENTRY_BYTES = 40;
/** Values within it are written with shifts of 32 bits. */
const SMALL_MAX = 2 ** 29;
const COLUMN_MAX = 253;
/** Far beyond every time; differences of two stay whole numbers. */
const TIME_MAX = 2 ** 51;

export type ExtraObject = Readonly<Record<string, unknown>>;

/** Which columns a reading has, in order. */
type Shape = Uint8Array;

/** Readings as they stand in a blob, in order of arrival. */
export interface JournalRows {
  readonly count: number;
  readonly source: Int32Array;
  readonly tMs: Float64Array;
  /** Where in `bytes` the values of each begin. */
  readonly start: Uint32Array;
  /** Twice the place of its shape, and one more where extras follow its values. */
  readonly form: Uint32Array;
  readonly shapes: readonly Shape[];
  readonly bytes: Uint8Array;
}

/** Buffers of its own and few calls, because every value that comes live passes here. */
export class JournalWriter {
  count = 0;
  #head = new Uint8Array(1 << 13);
  #headLength = 0;
  #body = new Uint8Array(1 << 16);
  #length = 0;
  #source = 0;
  #t = 0;
  #shapes: Shape[] = [];
  /** By its columns as a text: a stream may have as many shapes as readings. */
  #places = new Map<string, number>();
  /** By number of values, the shape that came last: most often it comes again. */
  #lastOfCount: (number | undefined)[] = [];

  /**
   * @param rows   a batch's rows, the reading at `at`: place, t, count, then pairs (`ReadingBatch.rows`)
   * @param extras JSON of the keys outside the vocabulary, or null
   * @throws RangeError for what no decoder writes: a time or value that is no whole number
   */
  add(source: number, rows: Float64Array, at: number, extras: string | null): void {
    const t = rows[at + 1]!;
    const count = rows[at + 2]!;
    if (!Number.isInteger(t) || Math.abs(t) > TIME_MAX)
      throw new RangeError(`Cannot store a reading at ${t}: expected epoch milliseconds`);
    const place = this.#lastOfCount[count] ?? this.#shapeOf(rows, at);
    const start = this.#length;
    if (start + count * VALUE_BYTES > this.#body.length) this.#growBody(count * VALUE_BYTES);
    const shape = this.#shapes[place];
    const body = this.#body;
    let length = start;
    for (let k = 0, i = at + 3; k < count; k++, i += 2) {
      if (shape === undefined || rows[i] !== shape[k]) {
        this.#addOtherShape(source, rows, at, extras);
        return;
      }
      const value = rows[i + 1]!;
      const whole = value | 0;
      if (whole === value && whole < SMALL_MAX && whole >= -SMALL_MAX) {
        // Zigzag, as `ByteWriter.signed`: the sign in the lowest bit of the first byte.
        let rest = (whole << 1) ^ (whole >> 31);
        while (rest >= 0x80) {
          body[length++] = (rest & 0x7f) | 0x80;
          rest >>>= 7;
        }
        body[length++] = rest;
      } else length = putLarge(body, length, value);
    }
    this.#length = length;
    if (extras !== null) this.#text(extras);
    this.#enter(source, t, place * 2 + (extras === null ? 0 : 1), this.#length - start);
  }

  #enter(source: number, t: number, form: number, bytes: number): void {
    if (this.#headLength + ENTRY_BYTES > this.#head.length) this.#head = moved(this.#head, this.#head.length * 2);
    const head = this.#head;
    let at = putSigned(head, this.#headLength, source - this.#source);
    at = putSigned(head, at, t - this.#t);
    at = putVarint(head, at, form);
    this.#headLength = putVarint(head, at, bytes);
    this.#source = source;
    this.#t = t;
    this.count++;
  }

  /** The shape that came last was another one, or none was known, or a column occurs twice. */
  #addOtherShape(source: number, rows: Float64Array, at: number, extras: string | null): void {
    const once = lastOfEach(rows, at);
    const row = once ?? rows;
    const from = once === null ? at : 0;
    this.#shapeOf(row, from);
    this.add(source, row, from, extras);
  }

  #shapeOf(rows: Float64Array, at: number): number {
    const shape = new Uint8Array(rows[at + 2]!);
    for (let k = 0; k < shape.length; k++) {
      const column = rows[at + 3 + 2 * k]!;
      if (!Number.isInteger(column) || column < 0 || column > COLUMN_MAX) {
        throw new RangeError(`There is no column ${column}`);
      }
      shape[k] = column;
    }
    // A column that occurs twice is no shape; it is found when the values are written.
    if (new Set(shape).size < shape.length) return -1;
    const name = shape.join(' ');
    const place = this.#places.get(name) ?? this.#shapes.push(shape) - 1;
    this.#places.set(name, place);
    this.#lastOfCount[shape.length] = place;
    return place;
  }

  /** Hands over the blob and begins anew. */
  finish(): Uint8Array {
    const front = createByteWriter(256);
    front.byte(VERSION);
    front.varint(this.count);
    front.varint(this.#shapes.length);
    for (const shape of this.#shapes) {
      front.varint(shape.length);
      front.bytes(shape);
    }
    const bytes = new Uint8Array(front.length + this.#headLength + this.#length);
    bytes.set(front.take());
    bytes.set(this.#head.subarray(0, this.#headLength), front.length);
    bytes.set(this.#body.subarray(0, this.#length), front.length + this.#headLength);
    this.clear();
    return bytes;
  }

  /** Forgets what was written. */
  clear(): void {
    this.count = 0;
    this.#headLength = 0;
    this.#length = 0;
    this.#source = 0;
    this.#t = 0;
    this.#shapes = [];
    this.#places = new Map();
    this.#lastOfCount = [];
  }

  #text(text: string): void {
    const bytes = Buffer.from(text);
    if (this.#length + bytes.length + VALUE_BYTES > this.#body.length) this.#growBody(bytes.length + VALUE_BYTES);
    this.#length = putVarint(this.#body, this.#length, bytes.length);
    this.#body.set(bytes, this.#length);
    this.#length += bytes.length;
  }

  #growBody(more: number): void {
    this.#body = moved(this.#body, Math.max(this.#body.length * 2, this.#length + more));
  }
}

function moved(from: Uint8Array, length: number): Uint8Array<ArrayBuffer> {
  const to = new Uint8Array(length);
  to.set(from);
  return to;
}

function putVarint(bytes: Uint8Array, at: number, value: number): number {
  let rest = value;
  let place = at;
  while (rest >= 0x80) {
    bytes[place++] = (rest % 0x80) | 0x80;
    rest = Math.floor(rest / 0x80);
  }
  bytes[place++] = rest;
  return place;
}

function putSigned(bytes: Uint8Array, at: number, value: number): number {
  if (value < SMALL_MAX && value >= -SMALL_MAX) return putVarint(bytes, at, (value << 1) ^ (value >> 31));
  return putLarge(bytes, at, value);
}

function putLarge(bytes: Uint8Array, at: number, value: number): number {
  if (!Number.isSafeInteger(value)) throw new RangeError(`Cannot store ${value}: expected a whole number`);
  const size = value < 0 ? -(value + 1) : value;
  const sign = value < 0 ? 1 : 0;
  if (size < 0x40) return putVarint(bytes, at, size * 2 + sign);
  bytes[at] = 0x80 | ((size % 0x40) << 1) | sign;
  return putVarint(bytes, at + 1, Math.floor(size / 0x40));
}

/** A reading that says a column twice means the latter. @returns null where none occurs twice */
function lastOfEach(rows: Float64Array, at: number): Float64Array | null {
  const values = new Map<number, number>();
  for (let i = at + 3; i < at + 3 + 2 * rows[at + 2]!; i += 2) values.set(rows[i]!, rows[i + 1]!);
  if (values.size === rows[at + 2]) return null;
  return Float64Array.of(rows[at]!, rows[at + 1]!, values.size, ...[...values].flat());
}

/** The readings of a blob; their values stay unread. @throws RangeError for a blob that is damaged or newer */
export function readJournalBlob(bytes: Uint8Array): JournalRows {
  const reader = createByteReader(bytes);
  const version = reader.byte();
  if (version !== VERSION) {
    throw new RangeError(`Cannot read a journal of version ${version}: this program knows version ${VERSION}`);
  }
  const count = reader.varint();
  const shapes = Array.from({ length: reader.varint() }, () => reader.bytes(reader.varint()));
  const source = new Int32Array(count);
  const tMs = new Float64Array(count);
  const start = new Uint32Array(count);
  const form = new Uint32Array(count);
  let place = 0;
  for (let row = 0; row < count; row++) {
    source[row] = reader.signed() + (source[row - 1] ?? 0);
    tMs[row] = reader.signed() + (tMs[row - 1] ?? 0);
    form[row] = reader.varint();
    start[row] = place;
    place += reader.varint();
  }
  const bodies = reader.at;
  for (let row = 0; row < count; row++) start[row]! += bodies;
  return { count, source, tMs, start, form, shapes, bytes };
}

/** Visits the values of one reading. @returns its keys outside the vocabulary, or null */
export function eachJournalValue(
  { bytes, start, form, shapes }: JournalRows,
  row: number,
  visit: (column: number, value: number) => void,
): ExtraObject | null {
  let place = start[row]!;
  const varint = (): number => {
    let value = 0;
    for (let scale = 1; ; scale *= 0x80) {
      const part = bytes[place++]!;
      value += (part & 0x7f) * scale;
      if (part < 0x80) return value;
    }
  };
  const shape = shapes[form[row]! >> 1]!;
  for (let k = 0; k < shape.length; k++) {
    const first = bytes[place++]!;
    let size = (first & 0x7f) >> 1;
    if (first & 0x80) size += varint() * 0x40;
    visit(shape[k]!, first & 1 ? -size - 1 : size);
  }
  if ((form[row]! & 1) === 0) return null;
  const length = varint();
  const text = Buffer.from(bytes.buffer, bytes.byteOffset + place, length).toString('utf8');
  return JSON.parse(text) as ExtraObject;
}
