/** kilter.yaml: read whole, every mistake said at once with its place; nothing starts half. */
import { readFileSync } from 'node:fs';
import { dirname, resolve } from 'node:path';
import { z } from 'zod';
import { columnMapMistakes } from '../../ingest/sources/column-map-file.ts';
import { NeedsOperator, type Refusal, sayRefusal } from '../../ingest/vocabulary/refusal.ts';
import { type PathFault, parsePlacedYaml, schemaFaults } from '../../ingest/wire/yaml-mistakes.ts';

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
  readonly sources: readonly FolderSource[];
}

export interface FolderSource {
  readonly kind: 'folder';
  readonly path: string;
  readonly columns: { readonly text: string; readonly file: string } | null;
}

/** Kinds of the contract that this program does not read yet. */
const LATER_KINDS: ReadonlySet<unknown> = new Set(['push', 'modbus', 'mqtt']);

const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const listenSchema = z.strictObject(
  {
    host: text('give an address to listen on, for example 127.0.0.1').default(DEFAULT_LISTEN.host),
    port: z
      .int({ error: 'give a port from 1 to 65535' })
      .min(0, { error: 'give a port from 1 to 65535' })
      .max(65_535, { error: 'give a port from 1 to 65535' })
      .default(DEFAULT_LISTEN.port),
    token_env: text('name the environment variable that holds the token').optional(),
  },
  { error: 'write listen: { host: 127.0.0.1, port: 8090 }' },
);
const folderSchema = z.strictObject(
  {
    kind: z.literal('folder', { error: 'write kind: folder' }),
    path: text('give the folder to which logs are written'),
    columns: text('name the YAML file of a column map').optional(),
  },
  { error: 'write { kind: folder, path: ./incoming }' },
);
const configSchema = z.strictObject(
  {
    data: text('give the folder in which readings are stored, for example ./data'),
    listen: listenSchema.default({ ...DEFAULT_LISTEN }),
    sites: z
      .union([text('name the file of site records'), z.array(text('name a file of site records'))], {
        error: 'name the file of site records, for example ./sites.yaml',
      })
      .optional(),
    sources: z.array(folderSchema, { error: 'write a list of sources, each a line that begins with "- "' }).default([]),
  },
  { error: 'write keys data, listen, sites, sources' },
);

/** Whether an address is one that only this machine can reach. */
export const isLoopback = (host: string): boolean => /^(localhost|127(\.\d{1,3}){3}|::1|\[::1\])$/i.test(host);

/** Entries of kinds that come later are said so, and are no mistake of spelling. */
function laterKinds(value: unknown): PathFault[] {
  const sources = typeof value === 'object' && value !== null ? Reflect.get(value, 'sources') : undefined;
  if (!Array.isArray(sources)) return [];
  return sources.flatMap((source: unknown, i): PathFault[] => {
    const kind = typeof source === 'object' && source !== null ? Reflect.get(source, 'kind') : undefined;
    if (!LATER_KINDS.has(kind)) return [];
    const what = `sources of kind ${String(kind)} are not read by this version`;
    return [
      {
        path: ['sources', i, 'kind'],
        fault: { what, remedy: 'let a gateway write log files to a folder, and name it: { kind: folder, path: … }' },
      },
    ];
  });
}

/** Faults of a source that comes later would only repeat that. */
function withoutLater(faults: readonly PathFault[], later: readonly PathFault[]): PathFault[] {
  const places = new Set(later.map(({ path }) => path[1]));
  return faults.filter(({ path }) => path[0] !== 'sources' || path[1] === undefined || !places.has(path[1]));
}

/** @param env the environment, read for the token alone */
export function parseConfig(
  yaml: string,
  file: string,
  env: Readonly<Record<string, string | undefined>>,
): { readonly config: Config } | { readonly mistakes: readonly Refusal[] } {
  const placed = parsePlacedYaml(yaml, file);
  if (placed.mistakes.length > 0) return { mistakes: placed.mistakes };
  const parsed = configSchema.safeParse(placed.value);
  const later = laterKinds(placed.value);
  const faults: PathFault[] = [
    ...later,
    ...withoutLater(parsed.success ? [] : schemaFaults(placed.value, parsed.error.issues), later),
  ];
  if (!parsed.success) return { mistakes: placed.place(faults) };
  const { data, listen, sites = [], sources } = parsed.data;
  const token = listen.token_env === undefined ? null : (env[listen.token_env] ?? '');
  if (token === '') {
    const what = `the environment variable ${listen.token_env} is not set`;
    faults.push({
      path: ['listen', 'token_env'],
      fault: { what, remedy: 'set it to a long random text, for example of openssl rand -hex 32' },
    });
  }
  if (token === null && !isLoopback(listen.host)) faults.push(openToAll(listen.host));
  const base = dirname(resolve(file));
  const columns = sources.map(({ columns: map }) => (map === undefined ? null : readMap(resolve(base, map))));
  for (const [i, map] of columns.entries()) {
    for (const fault of map?.faults ?? []) faults.push({ path: ['sources', i, 'columns'], fault });
  }
  if (faults.length > 0) return { mistakes: placed.place(faults) };
  return {
    config: {
      data: resolve(base, data),
      listen: { host: listen.host, port: listen.port, token },
      sites: (typeof sites === 'string' ? [sites] : sites).map((path) => resolve(base, path)),
      sources: sources.map(({ kind, path }, i) => ({
        kind,
        path: resolve(base, path),
        columns: columns[i]?.map ?? null,
      })),
    },
  };
}

const openToAll = (host: string): PathFault => ({
  path: ['listen', 'host'],
  fault: {
    what: `listen.host is "${host}", which others can reach, and no token is configured`,
    remedy: 'listen on 127.0.0.1, or name an environment variable with a token: token_env: KILTER_TOKEN',
  },
});

function readMap(file: string): {
  readonly map: { readonly text: string; readonly file: string };
  readonly faults: readonly { readonly what: string; readonly remedy: string }[];
} {
  try {
    const map = { text: readFileSync(file, 'utf8'), file };
    return {
      map,
      faults: columnMapMistakes(map.text, file).map(({ where, what, remedy }) => ({
        what: `${where}: ${what}`,
        remedy,
      })),
    };
  } catch (error) {
    const what = error instanceof Error ? error.message : String(error);
    return { map: { text: '', file }, faults: [{ what, remedy: 'name the YAML file of a column map' }] };
  }
}

/** @throws NeedsOperator with every mistake of the file */
export function readConfig(file: string, env: Readonly<Record<string, string | undefined>>): Config {
  let yaml: string;
  try {
    yaml = readFileSync(file, 'utf8');
  } catch (error) {
    const isMissing = (error as { code?: string }).code === 'ENOENT';
    const what = isMissing ? 'there is no such file' : (error as Error).message;
    throw new NeedsOperator(
      { where: file, what, remedy: 'name a configuration: --config kilter.yaml' },
      { cause: error },
    );
  }
  const read = parseConfig(yaml, file, env);
  if ('config' in read) return read.config;
  const count = read.mistakes.length;
  throw new NeedsOperator({
    where: read.mistakes.map(sayRefusal).join('\n'),
    what:
      count === 1
        ? 'one mistake keeps this configuration from being used'
        : `${count} mistakes keep this configuration from being used`,
    remedy: 'mend them and start again; nothing was started',
  });
}
