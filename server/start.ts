/** `kilter start`, `kilter serve` and `kilter ingest`: the board, its worker, and without a configuration the demo fleet. */
import { resolve } from 'node:path';
import type { Command, Io } from '../ingest/commands/command.ts';
import { readOptions, refuseRest, wholeNumber } from '../ingest/commands/read-options.ts';
import { NeedsOperator } from '../ingest/vocabulary/refusal.ts';
import { demoClock, demoPlan, newestStored, PLAIN_DEMO } from './process/demo-plan.ts';
import { type Config, DEFAULT_LISTEN, readConfig } from './process/read-config.ts';
import { type Asked, type Part, runParts } from './process/run-parts.ts';

/** What the commands take from the process. */
export interface StartWith {
  readonly version: string;
  /** The environment: read for the token that a configuration names. */
  readonly env: Readonly<Record<string, string | undefined>>;
}

const OPTIONS = {
  config: 'value',
  data: 'value',
  port: 'value',
  sites: 'value',
  days: 'value',
  every: 'value',
  speed: 'value',
} as const;
const DEMO_FOLDER = './data/demo';
/** Beyond it a poll would be more than a minute of the fleet apart. */
const MOST_SPEED = 60;

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
  --speed N       its present goes N times faster, up to ${MOST_SPEED}: it begins two days ago, or where its
                  readings end, and goes at the world's pace once it has caught up. No time is in the future

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

interface Read extends Pick<Asked, 'config' | 'file'> {
  /** null: a configuration is given. */
  readonly demo: {
    readonly sites: number;
    readonly days: number;
    readonly everyS: number;
    readonly speed: number;
  } | null;
}

function read(part: Part, args: readonly string[], env: StartWith['env']): Read {
  const { options, rest } = readOptions(part, OPTIONS, args);
  refuseRest(part, rest);
  const { config: path, data, port } = options;
  const listenPort = port === undefined ? {} : { port: wholeNumber(part, 'port', port, 0, 65_535) };
  const asked = (plain: Config): Config => ({
    ...plain,
    ...(data === undefined ? {} : { data: resolve(data) }),
    listen: { ...plain.listen, ...listenPort },
  });
  if (path !== undefined) {
    const file = { path, read: () => asked(readConfig(path, env)) };
    return { config: file.read(), file, demo: null };
  }
  if (part !== 'start' && (part === 'ingest' || data === undefined)) {
    const remedy = part === 'ingest' ? 'give --config kilter.yaml' : 'give --data DIR or --config kilter.yaml';
    throw new NeedsOperator({ where: `kilter ${part}`, what: 'it is not said what to work on', remedy });
  }
  const listen = { ...DEFAULT_LISTEN, token: null };
  const config = asked({ data: resolve(DEMO_FOLDER), listen, sites: [], sources: [], courier: null });
  if (part !== 'start') return { config, file: null, demo: null };
  const whole = (name: 'sites' | 'days', least: number, most: number): number =>
    options[name] === undefined ? PLAIN_DEMO[name] : wholeNumber(part, name, options[name], least, most);
  const everyS = options.every === undefined ? PLAIN_DEMO.everyS : wholeNumber(part, 'every', options.every, 5, 3600);
  const speed = options.speed === undefined ? 1 : wholeNumber(part, 'speed', options.speed, 1, MOST_SPEED);
  return { config, file: null, demo: { sites: whole('sites', 1, 1000), days: whole('days', 1, 3660), everyS, speed } };
}

async function run(part: Part, args: readonly string[], io: Io, { version, env }: StartWith): Promise<number> {
  const { config, file, demo } = read(part, args, env);
  return runParts(part, { config, file, planned: planDemo(config.data, demo, io.now()) }, io, version);
}

function planDemo(data: string, demo: Read['demo'], nowMs: number): Asked['planned'] {
  if (demo === null) return null;
  const clock = demoClock(demo.speed, newestStored(data), nowMs);
  return { ...demoPlan(data, demo, clock.shownMs), clock };
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
