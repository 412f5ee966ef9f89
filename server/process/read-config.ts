/** kilter.yaml: read whole, every mistake said at once with its place; nothing starts half. */
import { readFileSync } from 'node:fs';
import { hostname } from 'node:os';
import { dirname, resolve } from 'node:path';
import { z } from 'zod';
import { type CourierConfig, readCourierConfig } from '../../ingest/sources/courier/courier-config.ts';
import { NeedsOperator, type Refusal, sayRefusal } from '../../ingest/vocabulary/refusal.ts';
import { type PathFault, parsePlacedYaml, schemaFaults } from '../../ingest/wire/yaml-mistakes.ts';
import { readSources, type SourceConfig } from './source-kinds.ts';

export const DEFAULT_LISTEN = { host: '127.0.0.1', port: 8090 } as const;

/** A process's configuration, paths absolute. */
export interface Config {
  readonly data: string;
  readonly listen: {
    readonly host: string;
    readonly port: number;
    /** The token itself, read from the environment; null: none is configured. */
    readonly token: string | null;
  };
  /** Site record files or folders. */
  readonly sites: readonly string[];
  readonly sources: readonly SourceConfig[];
  /** What a courier needs; null where nothing is forwarded. */
  readonly courier: CourierConfig | null;
}

/** Who reads it: a store needs a data folder, a courier somewhere to forward to. */
export type ConfigFor = 'store' | 'courier';

const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const PORT = 'give a port from 1 to 65535';
const DATA = 'give the folder in which readings are stored, for example ./data';
const listenSchema = z.strictObject(
  {
    host: text('give an address to listen on, for example 127.0.0.1').default(DEFAULT_LISTEN.host),
    port: z.int({ error: PORT }).min(0, { error: PORT }).max(65_535, { error: PORT }).default(DEFAULT_LISTEN.port),
    token_env: text('name the environment variable that holds the token').optional(),
  },
  { error: 'write listen: { host: 127.0.0.1, port: 8090 }' },
);
const keys = {
  listen: listenSchema.default({ ...DEFAULT_LISTEN }),
  sites: z
    .union([text('name the file of site records'), z.array(text('name a file of site records'))], {
      error: 'name the file of site records, for example ./sites.yaml',
    })
    .optional(),
  // Each kind reads its entries, and the courier its keys, by schemas of their own.
  sources: z.array(z.unknown(), { error: 'write a list of sources, each a line that begins with "- "' }).default([]),
  forward: z.unknown().optional(),
  queue: z.unknown().optional(),
};
const SHAPE = { error: 'write keys data, listen, sites, sources' };
const SCHEMAS = {
  store: z.strictObject({ data: text(DATA), ...keys }, SHAPE),
  courier: z.strictObject({ data: text(DATA).default('./data'), ...keys }, SHAPE),
} as const;

/** Whether an address is one that only this machine can reach. */
export const isLoopback = (host: string): boolean => /^(localhost|127(\.\d{1,3}){3}|::1|\[::1\])$/i.test(host);

type Env = Readonly<Record<string, string | undefined>>;

/** @param env the environment, read for the secrets that the file names */
export function parseConfig(
  yaml: string,
  file: string,
  env: Env,
  part: ConfigFor = 'store',
): { readonly config: Config } | { readonly mistakes: readonly Refusal[] } {
  const placed = parsePlacedYaml(yaml, file);
  if (placed.mistakes.length > 0) return { mistakes: placed.mistakes };
  const house = { folder: dirname(resolve(file)), env };
  const parsed = SCHEMAS[part].safeParse(placed.value);
  const faults: PathFault[] = parsed.success ? [] : schemaFaults(placed.value, parsed.error.issues);
  const { sources, faults: sourceFaults } = readSources(entriesOf(placed.value), house);
  faults.push(...sourceFaults);
  const courier = courierOf(placed.value, part, house);
  faults.push(...courier.faults);
  if (part === 'courier') faults.push(...notOfCourier(sources));
  const listen = parsed.success ? listenOf(parsed.data.listen, env, part) : null;
  faults.push(...(listen?.faults ?? []));
  if (!parsed.success || listen === null || faults.length > 0) return { mistakes: placed.place(faults) };
  const { data, sites = [] } = parsed.data;
  return {
    config: {
      data: resolve(house.folder, data),
      listen: listen.listen,
      sites: (typeof sites === 'string' ? [sites] : sites).map((path) => resolve(house.folder, path)),
      sources,
      courier: courier.config,
    },
  };
}

/** The sources are read even where other keys are wrong, so that every mistake is said at once. */
export function entriesOf(value: unknown): readonly unknown[] {
  const sources: unknown = typeof value === 'object' && value !== null ? Reflect.get(value, 'sources') : undefined;
  return Array.isArray(sources) ? sources : [];
}

function courierOf(value: unknown, part: ConfigFor, house: { folder: string; env: Env }) {
  const key = (name: string): unknown =>
    typeof value === 'object' && value !== null ? Reflect.get(value, name) : undefined;
  const [forward, queue] = [key('forward'), key('queue')];
  if (part === 'store' && forward === undefined && queue === undefined) return { config: null, faults: [] };
  return readCourierConfig({ forward, ...(queue === undefined ? {} : { queue }) }, house, hostname());
}

/** A courier reads what speaks to it at the site; it has no board that takes pushes. */
function notOfCourier(sources: readonly SourceConfig[]): PathFault[] {
  return sources.flatMap(({ kind }, i): PathFault[] =>
    kind === 'push'
      ? [
          {
            path: ['sources', i],
            fault: {
              what: 'a courier takes no pushed readings',
              remedy: 'let the gateway push to the server itself, or write log files to a folder source',
            },
          },
        ]
      : [],
  );
}

function listenOf(
  { host, port, token_env }: z.infer<typeof listenSchema>,
  env: Env,
  part: ConfigFor,
): { readonly listen: Config['listen']; readonly faults: readonly PathFault[] } {
  const token = token_env === undefined ? null : (env[token_env] ?? '');
  const faults: PathFault[] = [];
  // A courier does not listen: a file that both use names a token that only the server has.
  if (part === 'store' && token === '') {
    const what = `the environment variable ${token_env} is not set`;
    const remedy = 'set it to a long random text, for example of openssl rand -hex 32';
    faults.push({ path: ['listen', 'token_env'], fault: { what, remedy } });
  }
  if (part === 'store' && token === null && !isLoopback(host)) faults.push(openToAll(host));
  return { listen: { host, port, token }, faults };
}

const openToAll = (host: string): PathFault => ({
  path: ['listen', 'host'],
  fault: {
    what: `listen.host is "${host}", which others can reach, and no token is configured`,
    remedy: 'listen on 127.0.0.1, or name an environment variable with a token: token_env: KILTER_TOKEN',
  },
});

/** @throws NeedsOperator with every mistake of the file */
export function readConfig(file: string, env: Env, part: ConfigFor = 'store'): Config {
  const read = parseConfig(readConfigText(file), file, env, part);
  if ('config' in read) return read.config;
  throw mistaken(read.mistakes);
}

/** @throws NeedsOperator where it cannot be read */
export function readConfigText(file: string): string {
  try {
    return readFileSync(file, 'utf8');
  } catch (error) {
    const isMissing = (error as { code?: string }).code === 'ENOENT';
    const what = isMissing ? 'there is no such file' : (error as Error).message;
    throw new NeedsOperator(
      { where: file, what, remedy: 'name a configuration: --config kilter.yaml' },
      { cause: error },
    );
  }
}

/** All mistakes of a configuration as one error. */
export function mistaken(mistakes: readonly Refusal[]): NeedsOperator {
  const count = mistakes.length;
  return new NeedsOperator({
    where: mistakes.map(sayRefusal).join('\n'),
    what:
      count === 1
        ? 'one mistake keeps this configuration from being used'
        : `${count} mistakes keep this configuration from being used`,
    remedy: 'mend them and start again; nothing was started',
  });
}
