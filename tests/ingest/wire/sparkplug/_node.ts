/** An edge node of a foreign codec: what it publishes, with seq and bdSeq counted as the standard says. */
import sparkplug from 'sparkplug-payload';
import type { SparkplugEntry } from '../../../../ingest/wire/mqtt/topic-entry.ts';
import type { Said } from '../mqtt/_heard.ts';

const codec = sparkplug.get('spBv1.0')!;
export const AT = Date.UTC(2026, 2, 2, 6);

export interface ForeignMetric {
  readonly name?: string;
  readonly alias?: number;
  readonly type?: string;
  readonly value: unknown;
  readonly timestamp?: number;
  readonly isNull?: boolean;
  readonly isHistorical?: boolean;
}
export type ForeignPayload = {
  readonly metrics?: readonly ForeignMetric[];
  readonly timestamp?: number;
  readonly seq?: number;
};

export const encode = (payload: ForeignPayload): Uint8Array => codec.encodePayload(payload as never);

export const ENTRY: SparkplugEntry = {
  reads: 'sparkplug',
  group: 'valley',
  nodes: {
    'gw-7': {
      site: 'millpond',
      own: null,
      devices: { 'inv-a': { kind: 'unit', id: 'u1' }, 'bat-1': { kind: 'pack', id: 'p1' } },
    },
  },
  metrics: {
    'Output/Power': { quantity: 'output_power_w', factor: 1, states: null },
    'Grid/Voltage': { quantity: 'grid_voltage_v', factor: 0.1, states: null },
    Mode: { quantity: 'mode', factor: 1, states: { '2': 'grid', '3': 'backup' } },
    SoC: { quantity: 'soc_pct', factor: 1, states: null },
  },
  mayAskForBirth: false,
};

/** Sends as a node does: one seq for the node and its devices, one bdSeq a connection. */
export class ForeignNode {
  #seq = 0;
  #bdSeq = -1;
  readonly #name: string;

  constructor(name = 'gw-7') {
    this.#name = name;
  }

  /** @param connection whether it has connected anew; a rebirth on the same connection keeps bdSeq */
  birth(connection: 'new' | 'same' = 'new', metrics: readonly ForeignMetric[] = []): Said {
    this.#seq = 0;
    if (connection === 'new') this.#bdSeq = (this.#bdSeq + 1) % 256;
    const own = { name: 'bdSeq', type: 'Int64', value: this.#bdSeq, timestamp: AT };
    const control = { name: 'Node Control/Rebirth', type: 'Boolean', value: false, timestamp: AT };
    return this.#say('NBIRTH', null, { timestamp: AT, seq: 0, metrics: [own, control, ...metrics] });
  }

  death(bdSeq = this.#bdSeq): Said {
    return this.#say('NDEATH', null, {
      timestamp: AT,
      metrics: [{ name: 'bdSeq', type: 'UInt64', value: bdSeq, timestamp: AT }],
    });
  }

  say(
    type: 'NDATA' | 'DBIRTH' | 'DDATA' | 'DDEATH',
    device: string | null,
    metrics: readonly ForeignMetric[] = [],
    more: ForeignPayload = {},
  ): Said {
    this.#seq = (this.#seq + 1) % 256;
    return this.#say(type, device, { timestamp: AT, seq: this.#seq, metrics, ...more });
  }

  /** A message that goes lost on the way. */
  lose(count = 1): void {
    this.#seq = (this.#seq + count) % 256;
  }

  #say(type: string, device: string | null, payload: ForeignPayload): Said {
    const end = device === null ? '' : `/${device}`;
    return { topic: `spBv1.0/valley/${type}/${this.#name}${end}`, payload: encode(payload), canComeAgain: false };
  }
}

/** The birth of a unit: each metric by name and alias. */
export const UNIT_BIRTH: readonly ForeignMetric[] = [
  { name: 'Output/Power', alias: 1, type: 'Int32', value: 1215, timestamp: AT },
  { name: 'Grid/Voltage', alias: 2, type: 'UInt16', value: 2298, timestamp: AT },
  { name: 'Mode', alias: 3, type: 'UInt8', value: 2, timestamp: AT },
];
