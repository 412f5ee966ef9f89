/**
 * One column of a source and day as bytes. Layout in DEVELOPERS.md, "The block format".
 *
 * Chunks of 128 values; each takes the narrowest of three forms: distance from its least value,
 * differences, or distance from a straight line (times with jitter, counters). What is left is
 * bit-packed, and deflated where that pays.
 */
import { deflateRawSync, inflateRawSync } from 'node:zlib';
import { packBits, unpackBits, unpackOnLine, widthOf } from './bit-pack.ts';
import { createByteReader, createByteWriter } from './byte-writer.ts';

const CHUNK = 128;
const WIDTH_MAX = 31;
const RANGE_MAX = 2 ** 31 - 1;
/** Deflating a few bytes costs more than it saves. */
const DEFLATE_FROM_BYTES = 48;
/** A tenth less is worth inflating at every read; a twentieth is not (measured on powers and voltages). */
const DEFLATED_MOST = 0.9;

const HAS_ABSENT = 1;
const CONSTANT = 2;
/** Some value does not fit 31 bits above the least: raw doubles. */
const WIDE = 4;
const DEFLATED = 8;

const FORM_LEVEL = 0;
const FORM_STEPS = 1;
const FORM_LINE = 2;

const headers = createByteWriter(4096);
const whole = createByteWriter(65_536);
const residual = new Int32Array(CHUNK);
const byteCounts = new Uint32Array(256);
let offsets = new Int32Array(8640);
let words = new Uint32Array(8640);

/** Count, extremes and sum of the values that are present. */
export interface ColumnFigures {
  readonly count: number;
  readonly min: number;
  readonly max: number;
  readonly sum: number;
}

export function figuresOf(values: Float64Array): ColumnFigures {
  let count = 0;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (Number.isNaN(value)) continue;
    count++;
    sum += value;
    if (value < min) min = value;
    if (value > max) max = value;
  }
  return { count, min, max, sum };
}

/**
 * Encodes a column.
 *
 * @param values  stored integers, NaN where absent; at least one is present
 * @param figures of these values
 * @returns the bytes, to be read by `decodeColumn` with the same count
 */
export function encodeColumn(values: Float64Array, figures: ColumnFigures = figuresOf(values)): Uint8Array {
  const { count: present, min, max } = figures;
  if (present === 0) throw new RangeError('Cannot encode a column without a value');
  let flags = 0;
  whole.reset();
  whole.byte(0);
  if (present < values.length) {
    flags |= HAS_ABSENT;
    whole.bytes(presenceBits(values));
  }
  if (min === max) {
    flags |= CONSTANT;
    whole.signed(min);
  } else if (max - min > RANGE_MAX) {
    flags |= WIDE;
    whole.bytes(new Uint8Array(presentOf(values, present).buffer));
  } else {
    packBody(values, present, min);
  }
  const bytes = whole.take();
  const raw = bytes.subarray(1);
  if (mayDeflate(raw)) {
    const deflated = deflateRawSync(raw, { level: 1 });
    if (deflated.length < raw.length * DEFLATED_MOST) {
      whole.reset();
      whole.byte(flags | DEFLATED);
      whole.bytes(deflated);
      return whole.take();
    }
  }
  bytes[0] = flags;
  return bytes;
}

function presenceBits(values: Float64Array): Uint8Array {
  const bits = new Uint8Array(Math.ceil(values.length / 8));
  for (let i = 0; i < values.length; i++) {
    if (!Number.isNaN(values[i])) bits[i >> 3]! |= 1 << (i & 7);
  }
  return bits;
}

function presentOf(values: Float64Array, present: number): Float64Array {
  const kept = new Float64Array(present);
  let at = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isNaN(value)) kept[at++] = value;
  }
  return kept;
}

/**
 * Whether deflating can pay: by how often each byte value occurs. Noise, as in powers and times, can't be made smaller,
 * and to try it costs more than all else together.
 */
function mayDeflate(raw: Uint8Array): boolean {
  if (raw.length < DEFLATE_FROM_BYTES) return false;
  byteCounts.fill(0);
  for (let i = 0; i < raw.length; i++) byteCounts[raw[i]!]!++;
  let bits = 0;
  for (let byte = 0; byte < 256; byte++) {
    const count = byteCounts[byte]!;
    if (count > 0) bits += count * Math.log2(raw.length / count);
  }
  return bits < 8 * raw.length * DEFLATED_MOST;
}

/** Headers of all chunks, then their words: headers alike stand together and deflate well. */
function packBody(values: Float64Array, present: number, least: number): void {
  if (offsets.length < present) offsets = new Int32Array(present);
  if (words.length < present) words = new Uint32Array(present);
  let at = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isNaN(value)) offsets[at++] = value - least;
  }
  headers.reset();
  headers.signed(least);
  let wordAt = 0;
  for (let from = 0; from < present; from += CHUNK) {
    wordAt = packChunk(from, Math.min(CHUNK, present - from), wordAt);
  }
  whole.varint(headers.length);
  whole.bytes(headers.take());
  whole.bytes(new Uint8Array(words.buffer, 0, wordAt * 4));
}

function packChunk(from: number, count: number, wordAt: number): number {
  const first = offsets[from]!;
  // Level: distance from the least of the chunk.
  let least = first;
  let greatest = first;
  let stepLeast = 0;
  let stepGreatest = 0;
  for (let i = 1; i < count; i++) {
    const value = offsets[from + i]!;
    if (value < least) least = value;
    if (value > greatest) greatest = value;
    const step = value - offsets[from + i - 1]!;
    if (i === 1 || step < stepLeast) stepLeast = step;
    if (i === 1 || step > stepGreatest) stepGreatest = step;
  }
  const levelWidth = widthOf(greatest - least);
  const stepRange = stepGreatest - stepLeast;
  const stepWidth = stepRange > RANGE_MAX ? WIDTH_MAX + 1 : widthOf(stepRange);
  const slope = count > 1 ? Math.round((offsets[from + count - 1]! - first) / (count - 1)) : 0;
  // A line takes no more off the range than it travels, so most noise needs no look at it.
  const travel = Math.abs(slope) * (count - 1);
  const mayBeLine = slope !== 0 && widthOf(Math.max(0, greatest - least - travel)) < levelWidth;
  let lineLeast = 0;
  let lineGreatest = 0;
  for (let i = 1; i < count && mayBeLine; i++) {
    const off = offsets[from + i]! - first - i * slope;
    if (off < lineLeast) lineLeast = off;
    if (off > lineGreatest) lineGreatest = off;
  }
  const lineRange = lineGreatest - lineLeast;
  const lineWidth = lineRange > RANGE_MAX || !mayBeLine ? WIDTH_MAX + 1 : widthOf(lineRange);

  if (levelWidth <= stepWidth && levelWidth <= lineWidth) {
    headers.byte((FORM_LEVEL << 5) | levelWidth);
    headers.varint(least);
    for (let i = 0; i < count; i++) residual[i] = offsets[from + i]! - least;
    return packBits(residual, count, levelWidth, words, wordAt);
  }
  if (stepWidth <= lineWidth) {
    headers.byte((FORM_STEPS << 5) | stepWidth);
    headers.varint(first);
    headers.signed(stepLeast);
    for (let i = 1; i < count; i++) residual[i - 1] = offsets[from + i]! - offsets[from + i - 1]! - stepLeast;
    return packBits(residual, count - 1, stepWidth, words, wordAt);
  }
  headers.byte((FORM_LINE << 5) | lineWidth);
  headers.varint(first);
  headers.signed(slope);
  headers.signed(lineLeast);
  for (let i = 0; i < count; i++) residual[i] = offsets[from + i]! - first - i * slope - lineLeast;
  return packBits(residual, count, lineWidth, words, wordAt);
}

/**
 * The reverse of `encodeColumn`.
 *
 * @param count   readings of the day
 * @param divisor 1 for stored integers; 10^decimals to get the quantity's own unit
 * @returns count values, NaN where absent
 */
export function decodeColumn(bytes: Uint8Array, count: number, divisor = 1): Float64Array {
  const flags = bytes[0]!;
  const raw = flags & DEFLATED ? inflateRawSync(bytes.subarray(1)) : bytes.subarray(1);
  const bitmapBytes = flags & HAS_ABSENT ? Math.ceil(count / 8) : 0;
  const bitmap = bitmapBytes > 0 ? raw.subarray(0, bitmapBytes) : null;
  const present = bitmap === null ? count : bitsSet(bitmap);
  const body = raw.subarray(bitmapBytes);
  const values = new Float64Array(count);
  if (flags & CONSTANT) values.fill(createByteReader(body).signed() / divisor, 0, present);
  else if (flags & WIDE) readWide(body, present, divisor, values);
  else unpackBody(body, present, divisor, values);
  if (bitmap !== null) spread(values, bitmap, present);
  return values;
}

function bitsSet(bitmap: Uint8Array): number {
  let set = 0;
  for (let byte of bitmap) for (; byte !== 0; byte &= byte - 1) set++;
  return set;
}

function readWide(body: Uint8Array, present: number, divisor: number, values: Float64Array): void {
  const view = new DataView(body.buffer, body.byteOffset, body.byteLength);
  for (let i = 0; i < present; i++) values[i] = view.getFloat64(i * 8, true) / divisor;
}

function unpackBody(body: Uint8Array, present: number, divisor: number, values: Float64Array): void {
  const reader = createByteReader(body);
  const headBytes = reader.varint();
  const head = createByteReader(reader.bytes(headBytes));
  const wordBytes = body.length - reader.at;
  // Copied, because words must stand at multiples of four. One more than there is, for the look ahead, and one for a
  // last chunk of no width.
  if (words.length < wordBytes / 4 + 2) words = new Uint32Array(wordBytes / 4 + 2);
  const packed = words;
  new Uint8Array(packed.buffer).set(reader.bytes(wordBytes));
  const base = head.signed();
  let wordAt = 0;
  for (let from = 0; from < present; from += CHUNK) {
    const count = Math.min(CHUNK, present - from);
    const tag = head.byte();
    const width = tag & 31;
    const first = head.varint() + base;
    switch (tag >> 5) {
      case FORM_LEVEL:
        wordAt = unpackOnLine(packed, wordAt, count, width, { first, slope: 0, divisor, from }, values);
        break;
      case FORM_STEPS: {
        const step = head.signed();
        wordAt = unpackBits(packed, wordAt, count - 1, width, residual);
        let value = first;
        values[from] = value / divisor;
        for (let i = 1; i < count; i++) {
          value += step + residual[i - 1]!;
          values[from + i] = value / divisor;
        }
        break;
      }
      case FORM_LINE: {
        const slope = head.signed();
        const line = { first: first + head.signed(), slope, divisor, from };
        wordAt = unpackOnLine(packed, wordAt, count, width, line, values);
        break;
      }
      default:
        throw new RangeError(
          `Cannot read a chunk of form ${tag >> 5}: the block is damaged or newer than this program`,
        );
    }
  }
}

/** Moves the present values to their places, from the end, and puts NaN between them. */
function spread(values: Float64Array, bitmap: Uint8Array, present: number): void {
  let from = present - 1;
  for (let i = values.length - 1; i >= 0; i--) {
    const here = bitmap[i >> 3]! & (1 << (i & 7));
    values[i] = here ? values[from--]! : Number.NaN;
  }
}
