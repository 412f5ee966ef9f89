/** The kinds of sources that a configuration may name, and how an entry of each is read. */

import { readFolderConfig } from '../../ingest/sources/folder-config.ts';
import type { RunConfig } from '../../ingest/sources/make-source.ts';
import { readModbusConfig } from '../../ingest/sources/modbus/modbus-config.ts';
import { readMqttConfig } from '../../ingest/sources/mqtt/mqtt-config.ts';
import { type PushConfig, readPushConfig } from '../../ingest/sources/push/push-config.ts';
import type { ConfigHouse, SourceReading } from '../../ingest/sources/source-config.ts';
import { LIVE_SOURCE_KINDS, type LiveSourceKind } from '../../ingest/vocabulary/source-status.ts';
import { quoteValue } from '../../ingest/wire/quote-value.ts';
import type { PathFault } from '../../ingest/wire/yaml-mistakes.ts';

export type SourceConfig = RunConfig | PushConfig;

const READERS: {
  readonly [Kind in LiveSourceKind]: (value: unknown, house: ConfigHouse) => SourceReading<SourceConfig>;
} = {
  folder: readFolderConfig,
  modbus: readModbusConfig,
  push: readPushConfig,
  mqtt: readMqttConfig,
};

/** Which part of a house runs a source: what is pushed comes to the server, the worker fetches everything else. */
export const isRunBy = {
  worker: (source: SourceConfig): source is RunConfig => source.kind !== 'push',
  server: (source: SourceConfig): source is PushConfig => source.kind === 'push',
} as const;

const KINDS = `write kind: ${LIVE_SOURCE_KINDS.slice(0, -1).join(', ')} or ${LIVE_SOURCE_KINDS.at(-1)}`;

export interface SourcesReading {
  readonly sources: readonly SourceConfig[];
  /** Paths begin at the file. */
  readonly faults: readonly PathFault[];
}

/** All entries, each with every mistake; two sources of one name are a mistake of the second. */
export function readSources(entries: readonly unknown[], house: ConfigHouse): SourcesReading {
  const sources: SourceConfig[] = [];
  const faults: PathFault[] = [];
  for (const [i, entry] of entries.entries()) {
    const read = readOne(entry, house);
    const path = ['sources', i];
    faults.push(...read.faults.map((one) => ({ ...one, path: [...path, ...one.path] })));
    if (read.config === null) continue;
    const { name } = read.config;
    if (sources.some((one) => one.name === name))
      faults.push({ path, fault: { what: `two sources are ${name}`, remedy: 'put them together in one' } });
    const twin = sources.find((one) => isSameClient(one, read.config!));
    if (twin !== undefined && twin.name !== name)
      faults.push({ path: [...path, 'client_id'], fault: sameClient(twin) });
    sources.push(read.config);
  }
  return { sources, faults };
}

/** MQTT 3.1.1, 3.1.4: a broker cuts off a client when another one comes by its client_id; the two would do so in turn. */
function isSameClient(a: SourceConfig, b: SourceConfig): boolean {
  if (a.kind !== 'mqtt' || b.kind !== 'mqtt' || a.clientId === null || a.clientId !== b.clientId) return false;
  return brokerOf(a.url) === brokerOf(b.url);
}

/** The same broker by whatever name of this machine, and whether or not its port is written. */
function brokerOf(url: string): string {
  const { protocol, hostname, port } = new URL(url);
  const host = /^(localhost|127\.0\.0\.1|\[::1\])$/i.test(hostname) ? 'localhost' : hostname.toLowerCase();
  return `${host}:${port || (protocol === 'mqtts:' ? '8883' : '1883')}`;
}

const sameClient = ({ name }: SourceConfig) => ({
  what: `${name} has this client_id at the same broker: the two would cut each other off`,
  remedy: 'give each its own client_id, or put their topics together in one source',
});

function readOne(entry: unknown, house: ConfigHouse): SourceReading<SourceConfig> {
  if (typeof entry !== 'object' || entry === null || Array.isArray(entry))
    return refused([], `a source is ${quoteValue(entry)}`, 'write { kind: folder, path: ./incoming }');
  const kind: unknown = Reflect.get(entry, 'kind');
  if (kind === undefined) return refused([], 'kind is missing', KINDS);
  const known = LIVE_SOURCE_KINDS.find((one) => one === kind);
  return known === undefined ? refused(['kind'], `kind is ${quoteValue(kind)}`, KINDS) : READERS[known](entry, house);
}

const refused = (path: readonly PropertyKey[], what: string, remedy: string): SourceReading<never> => ({
  config: null,
  faults: [{ path, fault: { what, remedy } }],
});
