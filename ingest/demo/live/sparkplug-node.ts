/**
 * A gateway that speaks Sparkplug B: births with names, data by alias, a death when its site falls silent.
 *
 * @see Eclipse Sparkplug 3.0, chapter 6 and its sparkplug_b.proto (proto2)
 */
import protobuf from 'protobufjs/minimal.js';
import { COLUMNS, type QuantityId } from '../../vocabulary/quantities.ts';
import type { SourceKey } from '../../vocabulary/reading.ts';
import { type Said, valuesOf } from './say-reading.ts';

export const SPARKPLUG_GROUP = 'demo';
const DOUBLE = 10;
const STRING = 12;
const UINT64 = 8;
const SEQUENCE = 256;

/** Names that the gateway gives by itself; the others are called as the quantity. */
const OWN_NAMES: { readonly [Id in QuantityId]?: string } = {
  output_power_w: 'Output/Power',
  output_voltage_v: 'Output/Voltage',
  grid_voltage_v: 'Grid/Voltage',
  pack_current_a: 'Battery/Current',
};
/** What the entry of `topics:` has under `metrics`. */
export const SPARKPLUG_METRICS = Object.fromEntries(
  Object.entries(OWN_NAMES).map(([quantity, name]) => [name, { quantity }]),
);

interface Metric {
  readonly name: string | null;
  readonly alias: number | null;
  readonly type: number;
  /** null: there is none. */
  readonly value: number | string | null;
}

interface Newest {
  readonly t: number;
  readonly values: ReadonlyMap<QuantityId, number | string>;
}

type Publish = (topic: string, payload: Uint8Array) => void;

/** Field number and wire type of a tag. */
const tag = (field: number, wire: number): number => field * 8 + wire;

function writeMetric(writer: protobuf.Writer, t: number, { name, alias, type, value }: Metric): void {
  writer.uint32(tag(2, 2)).fork();
  if (name !== null) writer.uint32(tag(1, 2)).string(name);
  if (alias !== null) writer.uint32(tag(2, 0)).uint64(alias);
  writer.uint32(tag(3, 0)).uint64(t).uint32(tag(4, 0)).uint32(type);
  if (value === null) writer.uint32(tag(7, 0)).bool(true);
  else if (typeof value === 'string') writer.uint32(tag(15, 2)).string(value);
  else if (type === UINT64) writer.uint32(tag(11, 0)).uint64(value);
  else writer.uint32(tag(13, 1)).double(value);
  writer.ldelim();
}

function payloadOf(t: number, seq: number | null, metrics: readonly Metric[]): Uint8Array {
  const writer = protobuf.Writer.create().uint32(tag(1, 0)).uint64(t);
  for (const metric of metrics) writeMetric(writer, t, metric);
  if (seq !== null) writer.uint32(tag(3, 0)).uint64(seq);
  return writer.finish();
}

export class SparkplugNode {
  readonly #name: string;
  readonly #devices: readonly SourceKey[];
  readonly #publish: Publish;
  #seq = 0;
  #births = 0;
  #isBorn = false;
  /** By the place of the device. */
  readonly #newest = new Map<number, Newest>();

  constructor(name: string, devices: readonly SourceKey[], publish: Publish) {
    this.#name = name;
    this.#devices = devices;
    this.#publish = publish;
  }

  /** A metric's alias is the place of its device and of its quantity. */
  #aliasOf(device: number, column: number): number {
    return device * 100 + column + 1;
  }

  #send(kind: string, device: string | null, payload: Uint8Array): void {
    const end = device === null ? this.#name : `${this.#name}/${device}`;
    this.#publish(`spBv1.0/${SPARKPLUG_GROUP}/${kind}/${end}`, payload);
  }

  #next(): number {
    const seq = this.#seq;
    this.#seq = (seq + 1) % SEQUENCE;
    return seq;
  }

  /** Names and aliases of everything that was ever heard, with its newest values. */
  bear(t: number): void {
    this.#births += 1;
    this.#seq = 0;
    this.#isBorn = true;
    const bdSeq = { name: 'bdSeq', alias: null, type: UINT64, value: this.#births % SEQUENCE };
    this.#send('NBIRTH', null, payloadOf(t, this.#next(), [bdSeq]));
    for (const [place, newest] of this.#newest) this.#bearDevice(place, newest);
  }

  #bearDevice(place: number, { t, values }: Newest): void {
    const { kind, id } = this.#devices[place]!;
    const metrics = COLUMNS[kind].map((column): Metric => {
      const type = column.words === null ? DOUBLE : STRING;
      const name = OWN_NAMES[column.id] ?? column.id;
      return { name, alias: this.#aliasOf(place, column.index), type, value: values.get(column.id) ?? null };
    });
    this.#send('DBIRTH', id, payloadOf(t, this.#next(), metrics));
  }

  die(t: number): void {
    if (!this.#isBorn) return;
    this.#isBorn = false;
    const bdSeq = { name: 'bdSeq', alias: null, type: UINT64, value: this.#births % SEQUENCE };
    this.#send('NDEATH', null, payloadOf(t, null, [bdSeq]));
  }

  say({ source, t, values }: Said): void {
    if (!this.#isBorn) this.bear(t);
    const place = this.#devices.findIndex(({ kind, id }) => kind === source.kind && id === source.id);
    if (place < 0) return;
    const said = valuesOf(source.kind, values);
    const isFirst = !this.#newest.has(place);
    this.#newest.set(place, { t, values: said });
    if (isFirst) {
      this.#bearDevice(place, { t, values: said });
      return;
    }
    const metrics = COLUMNS[source.kind].flatMap(({ id, index, words }): Metric[] => {
      const value = said.get(id);
      if (value === undefined) return [];
      return [{ name: null, alias: this.#aliasOf(place, index), type: words === null ? DOUBLE : STRING, value }];
    });
    this.#send('DDATA', source.id, payloadOf(t, this.#next(), metrics));
  }
}
