/** `kilter start`, `kilter serve` and `kilter ingest`: the board, its worker, and without a configuration the demo fleet. */
import { resolve } from 'node:path';
import type { Command, Io } from '../ingest/commands/command.ts';
import { readOptions, refuseRest, wholeNumber } from '../ingest/commands/read-options.ts';
import { readSiteFiles } from '../ingest/commands/read-sites.ts';
import { sayMistake } from '../ingest/site/site-mistake.ts';
import { openStore } from '../ingest/store/open-store.ts';
import { createReadingStore } from '../ingest/store/reading-store.ts';
import { NeedsOperator } from '../ingest/vocabulary/refusal.ts';
import { SECOND_MS } from '../ingest/vocabulary/time.ts';
import { builtPages } from './process/built-pages.ts';
import { demoPlan, PLAIN_DEMO } from './process/demo-plan.ts';
import { type KeptWorker, keepWorker } from './process/keep-worker.ts';
import { type Config, DEFAULT_LISTEN, readConfig } from './process/read-config.ts';
import { demoLogs, type RunningDemo, runDemo } from './process/run-demo.ts';
import { type Serving, serve } from './process/serve.ts';

/** What the commands take from the process. */
export interface StartWith {
  readonly version: string;
  /** The environment: read for the token that a configuration names. */
  readonly env: Readonly<Record<string, string | undefined>>;
}

type Part = 'start' | 'serve' | 'ingest';

const OPTIONS = {
  config: 'value',
  data: 'value',
  port: 'value',
  sites: 'value',
  days: 'value',
  every: 'value',
} as const;
const DEMO_FOLDER = './data/demo';
/** Children are ended where they take longer; with the server's own time it stays under five seconds. */
const STOP_GRACE_MS = 4000;

const USAGE: Readonly<Record<Part, string>> = {
  start: `Usage: kilter start [--config kilter.yaml] [--data DIR] [--port N]

Starts the board and its worker, and says where to look. Without a configuration it shows a simulated
fleet: 60 days up to now, and from then on as it lives. Ctrl-C stops everything.

  --config FILE   data folder, address, site records and sources (see DEVELOPERS.md)
  --data DIR      where readings are kept (${DEMO_FOLDER} for the demo)
  --port N        where the board is (${DEFAULT_LISTEN.port})
  --sites N       of the demo fleet (${PLAIN_DEMO.sites})
  --days N        of its past (${PLAIN_DEMO.days})
  --every N       seconds between its readings (${PLAIN_DEMO.everyS})

Examples:
  kilter start
  kilter start --config kilter.yaml
  kilter start --data /tmp/demo --port 8091 --sites 24`,
  serve: `Usage: kilter serve (--config kilter.yaml | --data DIR) [--port N]

The board alone, over readings that are stored: by kilter import, or by kilter ingest beside it.

Examples:
  kilter serve --data ./data
  kilter serve --config kilter.yaml --port 8091`,
  ingest: `Usage: kilter ingest --config kilter.yaml

The worker alone: reads the sources of the configuration and judges their sites.

Example:
  kilter ingest --config kilter.yaml`,
};

interface Asked {
  readonly config: Config;
  /** null: a configuration is given. */
  readonly demo: { readonly sites: number; readonly days: number; readonly everyS: number } | null;
}

function read(part: Part, args: readonly string[], env: StartWith['env']): Asked {
  const { options, rest } = readOptions(part, OPTIONS, args);
  refuseRest(part, rest);
  const { config: file, data, port } = options;
  const listen = { ...DEFAULT_LISTEN, token: null };
  const read =
    file === undefined ? { data: resolve(data ?? DEMO_FOLDER), listen, sites: [], sources: [] } : readConfig(file, env);
  const config: Config = {
    ...read,
    ...(file !== undefined && data !== undefined ? { data: resolve(data) } : {}),
    listen: { ...read.listen, ...(port === undefined ? {} : { port: wholeNumber(part, 'port', port, 0, 65_535) }) },
  };
  if (part !== 'start' && file === undefined && (part === 'ingest' || data === undefined)) {
    const remedy = part === 'ingest' ? 'give --config kilter.yaml' : 'give --data DIR or --config kilter.yaml';
    throw new NeedsOperator({ where: `kilter ${part}`, what: 'it is not said what to work on', remedy });
  }
  if (file !== undefined || part !== 'start') return { config, demo: null };
  const whole = (name: 'sites' | 'days', least: number, most: number): number =>
    options[name] === undefined ? PLAIN_DEMO[name] : wholeNumber(part, name, options[name], least, most);
  const everyS = options.every === undefined ? PLAIN_DEMO.everyS : wholeNumber(part, 'every', options.every, 5, 3600);
  return { config, demo: { sites: whole('sites', 1, 1000), days: whole('days', 1, 3660), everyS } };
}

/** Site records of the configuration into the store. @throws NeedsOperator with every mistake in them */
function storeRecords({ data, sites }: Config, io: Io): void {
  if (sites.length === 0) return;
  const checked = readSiteFiles(sites);
  if (checked.refusals.length > 0) {
    for (const mistake of checked.refusals) io.err(sayMistake(mistake));
    throw new NeedsOperator({
      where: sites.join(', '),
      what: 'mistakes keep these records from being used',
      remedy: 'mend them and start again; nothing was started',
    });
  }
  const db = openStore(data);
  try {
    const store = createReadingStore(db);
    for (const history of checked.histories.values()) store.addRecord(history, io.now());
  } finally {
    db.close();
  }
}

const stopAsked = (io: Io): Promise<void> => new Promise((resolveStop) => io.onStop(resolveStop));

async function run(part: Part, args: readonly string[], io: Io, { version, env }: StartWith): Promise<number> {
  const { config, demo } = read(part, args, env);
  const stopping = stopAsked(io);
  const planned = demo === null ? null : demoPlan(config.data, demo, io.now());
  storeRecords(config, io);
  let serving: Serving | null = null;
  let worker: KeptWorker | null = null;
  let fleet: RunningDemo | null = null;
  try {
    if (part !== 'ingest') {
      const pages = await builtPages(io.err);
      serving = await serve({ ...config, pages, version, nowMs: () => io.now(), say: io.err });
      io.out(`Kilter is at ${serving.address}`);
      await io.drained();
    }
    if (planned !== null) fleet = startFleet(planned, config.data, io);
    if (part !== 'serve') {
      const sources =
        fleet === null ? config.sources : [{ kind: 'folder' as const, path: demoLogs(config.data), columns: null }];
      worker = keepWorker({ data: config.data, sources }, io.err);
    }
    io.err(`readings are kept in ${config.data}; Ctrl-C stops ${part === 'start' ? 'everything' : 'it'}`);
    const end = part === 'ingest' && worker !== null ? Promise.race([stopping, worker.ended]) : stopping;
    return (await end) === 'refused' ? 1 : 0;
  } finally {
    await Promise.all([serving?.stop(), worker?.stop(STOP_GRACE_MS), fleet?.stop(STOP_GRACE_MS)]);
  }
}

function startFleet({ plan, isNew }: ReturnType<typeof demoPlan>, data: string, io: Io): RunningDemo {
  io.err(
    isNew
      ? `making the demo fleet: ${plan.sites} invented sites; they appear one after the other`
      : `the demo fleet goes on: ${plan.sites} invented sites catch up with what they missed`,
  );
  const startedMs = io.now();
  const fleet = runDemo(plan, data, io.err);
  void fleet.ready.then((isReady) => {
    if (isReady)
      io.err(`the demo fleet is stored up to now (${Math.round((io.now() - startedMs) / SECOND_MS)} s), and lives on`);
  });
  return fleet;
}

const SUMMARIES: Readonly<Record<Part, string>> = {
  start: 'the board and its worker; without a configuration, the demo fleet',
  serve: 'the board alone',
  ingest: 'the worker alone',
};

export function startCommands(house: StartWith): Command[] {
  return (['start', 'serve', 'ingest'] as const).map((part) => ({
    name: part,
    summary: SUMMARIES[part],
    usage: USAGE[part],
    run: (args, io) => run(part, args, io, house),
  }));
}
