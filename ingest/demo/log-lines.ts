/** Readings to bytes, NDJSON or CSV: digits are written by hand, because text made line by line is too slow. */
import { COLUMNS, columnOf, type QuantityId, type SourceKind } from '../vocabulary/quantities.ts';
import { dayOf, formatDay, formatTime } from '../vocabulary/time.ts';

type TimeForm = 'rfc3339' | 'epoch_ms';
export type LogFormat = 'ndjson' | 'csv';

/** Bytes that grow at the end. */
export interface ByteSink {
  bytes: Uint8Array;
  view: DataView;
  length: number;
}

const encoder = new TextEncoder();

export function createSink(capacity = 1 << 16): ByteSink {
  const bytes = new Uint8Array(capacity);
  return { bytes, view: new DataView(bytes.buffer), length: 0 };
}

function reserve(sink: ByteSink, more: number): void {
  if (sink.length + more <= sink.bytes.length) return;
  const grown = new Uint8Array(Math.max(sink.bytes.length * 2, sink.length + more));
  grown.set(sink.bytes.subarray(0, sink.length));
  sink.bytes = grown;
  sink.view = new DataView(grown.buffer);
}

export function appendBytes(sink: ByteSink, bytes: Uint8Array): void {
  reserve(sink, bytes.length);
  sink.bytes.set(bytes, sink.length);
  sink.length += bytes.length;
}

export function appendText(sink: ByteSink, text: string): void {
  appendBytes(sink, encoder.encode(text));
}

/** How the readings of one source are written: everything that does not change from line to line. */
export interface LineLayout {
  readonly kind: SourceKind;
  readonly format: LogFormat;
  readonly timeForm: TimeForm;
  /** Between the time and the first value. */
  readonly middle: Fixed;
  /** Place of each written value among the columns of its kind. */
  readonly places: readonly number[];
  /** `,"output_power_w":` of each column; a comma in CSV. */
  readonly keys: readonly Fixed[];
  readonly decimals: readonly number[];
  /** The words of an enumeration, in quotes in NDJSON; null for a number. */
  readonly words: readonly (readonly Fixed[] | null)[];
}

/**
 * @param quantities  what is written, in this order; for CSV all columns of the kind are written, so that
 *                    lines of different sources stand under one header
 */
export function createLayout(
  kind: SourceKind,
  site: string,
  id: string,
  quantities: readonly QuantityId[],
  format: LogFormat,
  timeForm: TimeForm,
): LineLayout {
  const columns = quantities.map((quantity) => {
    const column = columnOf(kind, quantity);
    if (column === undefined) throw new RangeError(`Cannot write ${quantity}: a ${kind} has no such quantity`);
    return column;
  });
  if (readyByDecimals.length === 0) readyByDecimals = [0, 1, 2, 3].map(readyNumbers);
  const isCsv = format === 'csv';
  return {
    kind,
    format,
    timeForm,
    middle: fixed(isCsv ? `,${site},${id}` : `,"site":"${site}","${kind}":"${id}"`),
    places: columns.map((column) => column.index),
    keys: columns.map((column) => fixed(isCsv ? ',' : `,"${column.id}":`)),
    decimals: columns.map((column) => column.decimals),
    words: columns.map((column) => column.words?.map((word) => fixed(isCsv ? word : `"${word}"`)) ?? null),
  };
}

/** The columns of a kind's CSV, in the order of the vocabulary. */
export function csvQuantities(kind: SourceKind): QuantityId[] {
  return COLUMNS[kind].map((column) => column.id);
}

export function csvHeader(kind: SourceKind): string {
  return `t,site,${kind},${csvQuantities(kind).join(',')}\n`;
}

const ZERO = 48;

/** Two digits at a place. */
function putPair(bytes: Uint8Array, at: number, n: number): void {
  bytes[at] = ZERO + ((n / 10) | 0);
  bytes[at + 1] = ZERO + (n % 10);
}

/** A whole number ≥ 0 with at least `least` digits; returns the place after it. */
function putWhole(bytes: Uint8Array, at: number, n: number, least: number): number {
  let digits = 1;
  for (let bound = 10; n >= bound; bound *= 10) digits++;
  if (digits < least) digits = least;
  let rest = n;
  for (let place = at + digits - 1; place >= at; place--) {
    const tenth = rest < 0x7fffffff ? (rest / 10) | 0 : Math.floor(rest / 10);
    bytes[place] = ZERO + (rest - tenth * 10);
    rest = tenth;
  }
  return at + digits;
}

const POWER_OF_TEN = [1, 10, 100, 1000] as const;

/** Stored integers below this have their text ready: nearly every figure of a site is one. */
const READY_COUNT = 10_000;

/** The text of 0 … 9,999 at one number of decimals: its length, and its bytes as one word of eight. */
interface ReadyNumbers {
  readonly length: Uint8Array;
  readonly words: Float64Array;
}

function readyNumbers(decimals: number): ReadyNumbers {
  const length = new Uint8Array(READY_COUNT);
  const words = new Float64Array(READY_COUNT);
  const text = new Uint8Array(8);
  const view = new DataView(text.buffer);
  for (let n = 0; n < READY_COUNT; n++) {
    text.fill(0);
    length[n] = encoder.encodeInto((n / (POWER_OF_TEN[decimals] ?? 1)).toFixed(decimals), text).written;
    words[n] = view.getFloat64(0, true);
  }
  return { length, words };
}

let readyByDecimals: readonly ReadyNumbers[] = [];

/** A number rounded to its decimals; returns the place after it. May write up to 8 bytes beyond its text. */
function putNumber(sink: ByteSink, at: number, value: number, decimals: number): number {
  const { bytes, view } = sink;
  const scale = POWER_OF_TEN[decimals] ?? 1;
  let scaled = Math.round(value * scale);
  if (scaled < 0) {
    bytes[at++] = 45;
    scaled = -scaled;
  }
  if (scaled < READY_COUNT) {
    const ready = readyByDecimals[decimals]!;
    view.setFloat64(at, ready.words[scaled]!, true);
    return at + ready.length[scaled]!;
  }
  if (decimals === 0) return putWhole(bytes, at, scaled, 1);
  const whole = Math.floor(scaled / scale);
  at = putWhole(bytes, at, whole, 1);
  bytes[at++] = 46;
  return putWhole(bytes, at, scaled - whole * scale, decimals);
}

/**
 * Text that is copied eight bytes at a time, as doubles: half the steps of whole numbers of four bytes. ASCII
 * never makes a NaN, whose bits a processor might change. The last word is filled up with zeros that the next text overwrites.
 */
interface Fixed {
  readonly length: number;
  readonly words: Float64Array;
}

function fixed(text: string): Fixed {
  const encoded = encoder.encode(text);
  const padded = new Uint8Array(8 * Math.ceil(encoded.length / 8));
  padded.set(encoded);
  const view = new DataView(padded.buffer);
  const words = Float64Array.from({ length: padded.length / 8 }, (_, i) => view.getFloat64(8 * i, true));
  return { length: encoded.length, words };
}

function putFixed(view: DataView, at: number, text: Fixed): number {
  const { words } = text;
  for (let i = 0; i < words.length; i++) view.setFloat64(at + 8 * i, words[i]!, true);
  return at + text.length;
}

let dayShown = Number.NaN;
let dayText = fixed('');

/** 2026-03-02T06:00:03.125Z, without a Date for each line. */
function putTime(sink: ByteSink, at: number, tMs: number): number {
  const { bytes, view } = sink;
  const day = dayOf(tMs);
  if (day !== dayShown) {
    dayShown = day;
    dayText = fixed(`${formatDay(day)}T`);
  }
  at = putFixed(view, at, dayText);
  const ms = tMs - day;
  const seconds = (ms / 1000) | 0;
  putPair(bytes, at, (seconds / 3600) | 0);
  bytes[at + 2] = 58;
  putPair(bytes, at + 3, ((seconds / 60) | 0) % 60);
  bytes[at + 5] = 58;
  putPair(bytes, at + 6, seconds % 60);
  bytes[at + 8] = 46;
  putWhole(bytes, at + 9, ms - seconds * 1000, 3);
  bytes[at + 12] = 90;
  return at + 13;
}

/** Room that one line may take: a key and its number are under 48 bytes. */
const BYTES_A_VALUE = 48;
const NDJSON_HEAD = fixed('{"t":');

/** One reading as a line. @param values in the order of the vocabulary's columns; NaN = absent; for enumerations the place of the word */
export function appendReading(sink: ByteSink, layout: LineLayout, tMs: number, values: Float64Array): void {
  reserve(sink, 160 + values.length * BYTES_A_VALUE);
  const { bytes, view } = sink;
  const isCsv = layout.format === 'csv';
  let at = sink.length;
  if (!isCsv) at = putFixed(view, at, NDJSON_HEAD);
  if (layout.timeForm === 'epoch_ms') at = putWhole(bytes, at, tMs, 1);
  else {
    if (!isCsv) bytes[at++] = 34;
    at = putTime(sink, at, tMs);
    if (!isCsv) bytes[at++] = 34;
  }
  at = putFixed(view, at, layout.middle);
  for (let i = 0; i < layout.keys.length; i++) {
    const value = values[layout.places[i]!]!;
    const isAbsent = Number.isNaN(value);
    if (isAbsent && !isCsv) continue;
    at = putFixed(view, at, layout.keys[i]!);
    if (isAbsent) continue;
    const words = layout.words[i];
    if (words === null || words === undefined) at = putNumber(sink, at, value, layout.decimals[i]!);
    else at = putFixed(view, at, words[value]!);
  }
  if (!isCsv) bytes[at++] = 125;
  bytes[at++] = 10;
  sink.length = at;
}

/** The time as a line of settings or alarms shows it. */
export function timeValue(form: TimeForm, tMs: number): string | number {
  return form === 'epoch_ms' ? tMs : formatTime(tMs);
}
