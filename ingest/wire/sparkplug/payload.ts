/**
 * Sparkplug B payloads, by field number: protobuf read with a field table of our own.
 *
 * Data sets, templates, properties and metadata are skipped by their length, so that nothing nests and nothing hostile
 * is built up in memory.
 *
 * @see Eclipse Sparkplug 3.0, chapter 6 and its sparkplug_b.proto (proto2)
 */
import protobuf from 'protobufjs/minimal.js';
import type { Fault } from '../line-meaning.ts';

/** A value as it travels: its field says more than the number, and the datatype more than the field. */
export type RawValue =
  | { readonly form: 'int'; readonly value: number }
  | { readonly form: 'long'; readonly value: bigint }
  | { readonly form: 'real'; readonly value: number }
  | { readonly form: 'flag'; readonly value: boolean }
  | { readonly form: 'text'; readonly value: string }
  /** Bytes, a data set, a template or an extension: nothing that Kilter stores. */
  | { readonly form: 'other'; readonly value: null }
  | { readonly form: 'none'; readonly value: null };

export interface Metric {
  readonly name: string | null;
  readonly alias: bigint | null;
  /** Epoch ms. */
  readonly timestamp: number | null;
  /** 0 where the metric names none. */
  readonly datatype: number;
  readonly isNull: boolean;
  readonly raw: RawValue;
}

export interface SparkplugPayload {
  readonly timestamp: number | null;
  readonly seq: number | null;
  readonly metrics: readonly Metric[];
}

/** A device has some hundred; a payload with more than this is no device. */
const MOST_METRICS = 20_000;
const NONE: RawValue = { form: 'none', value: null };
const OTHER: RawValue = { form: 'other', value: null };

type Reader = InstanceType<typeof protobuf.Reader>;
type Draft = { -readonly [Key in keyof Metric]: Metric[Key] };

/** Wire types of protobuf. */
const VARINT = 0;
const FIXED_64 = 1;
const BYTES = 2;
const FIXED_32 = 5;

/** The library gives 64 bits as two halves; without its optional package as a number that has lost its low bits. */
function longOf(reader: Reader): bigint {
  const long: { readonly low: number; readonly high: number } | number = reader.uint64();
  if (typeof long === 'number') return BigInt.asUintN(64, BigInt(long));
  return (BigInt(long.high >>> 0) << 32n) | BigInt(long.low >>> 0);
}

type Read = (reader: Reader, metric: Draft) => void;

/** Field number and wire type → what to do; everything else is skipped by its wire type. */
const METRIC_FIELDS: ReadonlyMap<number, Read> = new Map<number, Read>([
  [key(1, BYTES), (reader, metric) => (metric.name = reader.string())],
  [key(2, VARINT), (reader, metric) => (metric.alias = longOf(reader))],
  [key(3, VARINT), (reader, metric) => (metric.timestamp = Number(longOf(reader)))],
  [key(4, VARINT), (reader, metric) => (metric.datatype = reader.uint32())],
  [key(7, VARINT), (reader, metric) => (metric.isNull = reader.bool())],
  [key(10, VARINT), (reader, metric) => (metric.raw = { form: 'int', value: reader.uint32() })],
  [key(11, VARINT), (reader, metric) => (metric.raw = { form: 'long', value: longOf(reader) })],
  [key(12, FIXED_32), (reader, metric) => (metric.raw = { form: 'real', value: shortest(reader.float()) })],
  [key(13, FIXED_64), (reader, metric) => (metric.raw = { form: 'real', value: reader.double() })],
  [key(14, VARINT), (reader, metric) => (metric.raw = { form: 'flag', value: reader.bool() })],
  [key(15, BYTES), (reader, metric) => (metric.raw = { form: 'text', value: reader.string() })],
  ...[16, 17, 18, 19].map((field): [number, Read] => [
    key(field, BYTES),
    (reader, metric) => {
      reader.skipType(BYTES);
      metric.raw = OTHER;
    },
  ]),
]);

function key(field: number, wireType: number): number {
  return field * 8 + wireType;
}

/** 229.8 as a 32-bit float is 229.8000030517578: the shortest text that gives the same float is what was meant. */
function shortest(float: number): number {
  if (!Number.isFinite(float) || Number.isInteger(float)) return float;
  for (let digits = 6; digits < 9; digits += 1) {
    const rounded = Number(float.toPrecision(digits));
    if (Math.fround(rounded) === float) return rounded;
  }
  return float;
}

function readMetric(reader: Reader): Metric {
  const end = endOf(reader);
  const metric: Draft = { name: null, alias: null, timestamp: null, datatype: 0, isNull: false, raw: NONE };
  while (reader.pos < end) {
    const tag = reader.uint32();
    const read = METRIC_FIELDS.get(tag);
    if (read === undefined) reader.skipType(tag & 7, 0, tag >>> 3);
    else read(reader, metric);
  }
  if (reader.pos !== end) throw new RangeError('a field runs over the end of its metric');
  return metric;
}

function endOf(reader: Reader): number {
  const end = reader.uint32() + reader.pos;
  if (end > reader.len) throw new RangeError('a metric runs over the end of the payload');
  return end;
}

function readPayload(bytes: Uint8Array): SparkplugPayload {
  const reader = protobuf.Reader.create(bytes);
  const metrics: Metric[] = [];
  let timestamp: number | null = null;
  let seq: number | null = null;
  while (reader.pos < reader.len) {
    const tag = reader.uint32();
    if (tag === key(1, VARINT)) timestamp = Number(longOf(reader));
    else if (tag === key(2, BYTES)) {
      if (metrics.length === MOST_METRICS) throw new RangeError(`it holds more than ${MOST_METRICS} metrics`);
      metrics.push(readMetric(reader));
    } else if (tag === key(3, VARINT)) seq = Number(longOf(reader));
    else reader.skipType(tag & 7, 0, tag >>> 3);
  }
  return { timestamp, seq, metrics };
}

/** Decodes one payload, or says why it is none. */
export function decodePayload(bytes: Uint8Array): SparkplugPayload | Fault {
  try {
    return readPayload(bytes);
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    return { what: `the payload is no Sparkplug B payload: ${why}`, remedy: 'check what publishes to this topic' };
  }
}
