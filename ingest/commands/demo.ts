/** `kilter demo`: writes a simulated fleet as site records and logs. The writer is handed in: nothing here knows it. */
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { DAY_MS, dayOf, type EpochMs, epochMs, formatDay, SECOND_MS } from '../vocabulary/time.ts';
import type { Command, Io } from './command.ts';
import { oneOf, readOptions, refuseRest, required, wholeNumber } from './read-options.ts';
import { readDuration, readTime } from './read-time.ts';

const LOG_FORMATS = ['ndjson', 'csv'] as const;

export interface DemoFleet {
  readonly out: string;
  readonly seed: number;
  /** Midnight UTC of the first day. */
  readonly from: EpochMs;
  readonly days: number;
  readonly everyS: number;
  readonly sites: number;
  readonly gzip: boolean;
  readonly format: (typeof LOG_FORMATS)[number];
  readonly say: (line: string) => void;
}

/** Writes site records, logs and labels to a folder. */
export type WriteDemo = (
  fleet: DemoFleet,
) => Promise<{ readonly sitesFile: string; readonly files: readonly string[]; readonly readings: number }>;

/** The fleet that is written where nothing else is asked for: twelve sites, each with its story, in six weeks. */
export const PLAIN_FLEET = {
  seed: 1,
  from: epochMs(Date.UTC(2026, 2, 2)),
  days: 42,
  everyS: 60,
  sites: 12,
  gzip: false,
  format: 'ndjson',
} as const satisfies Omit<DemoFleet, 'out' | 'say'>;

/** The simulation has no room for the units' own instants below this. */
const LEAST_EVERY_S = 5;
const NAME = 'demo';
const OPTIONS = {
  out: 'value',
  seed: 'value',
  days: 'value',
  sites: 'value',
  every: 'value',
  from: 'value',
  gzip: 'flag',
  format: 'value',
} as const;

const USAGE = `Usage: kilter demo --out DIR [--seed N] [--days N] [--sites N] [--every 60s] [--from DATE]
                   [--gzip] [--format ndjson|csv]

Writes a simulated fleet of invented sites: sites.yaml, logs/SITE/DAY.ndjson, and labels.json, which
says what is wrong where. The same options give the same files.

  --out DIR      the folder to write to; made where it is not there
  --seed N       another number, another fleet (${PLAIN_FLEET.seed})
  --days N       how many days (${PLAIN_FLEET.days})
  --sites N      how many sites (${PLAIN_FLEET.sites})
  --every 60s    how often each unit and pack is read (${PLAIN_FLEET.everyS}s)
  --from DATE    the first day, UTC (${formatDay(PLAIN_FLEET.from)})
  --gzip         compressed logs
  --format csv   CSV instead of NDJSON

Examples:
  kilter demo --out ./demo
  kilter demo --out ./demo --days 90 --sites 40 --every 10s --gzip`;

const mistake = (what: string, remedy: string): NeedsOperator =>
  new NeedsOperator({ where: `kilter ${NAME}`, what, remedy });

function everySeconds(text: string): number {
  const everyMs = readDuration(NAME, 'every', text);
  if (everyMs % SECOND_MS === 0 && everyMs >= LEAST_EVERY_S * SECOND_MS && DAY_MS % everyMs === 0) {
    return everyMs / SECOND_MS;
  }
  throw mistake(
    `--every is "${text}"`,
    `give a time from ${LEAST_EVERY_S}s that divides a day, for example 10s or 60s`,
  );
}

function firstDay(text: string): EpochMs {
  const t = readTime(NAME, 'from', text);
  if (dayOf(t) === t) return t;
  throw mistake(`--from is "${text}"`, 'give a date, for example 2026-03-02: the demo begins at midnight UTC');
}

/** The fleet that the options describe. @throws NeedsOperator for an option that makes none */
export function readFleet(args: readonly string[]): Omit<DemoFleet, 'say'> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  refuseRest(NAME, rest);
  const whole = (option: 'seed' | 'days' | 'sites', least: number, most: number): number =>
    options[option] === undefined ? PLAIN_FLEET[option] : wholeNumber(NAME, option, options[option], least, most);
  return {
    out: required(NAME, 'out', options.out, './demo'),
    seed: whole('seed', 0, 2 ** 32 - 1),
    days: whole('days', 1, 3660),
    sites: whole('sites', 1, 10_000),
    everyS: options.every === undefined ? PLAIN_FLEET.everyS : everySeconds(options.every),
    from: options.from === undefined ? PLAIN_FLEET.from : firstDay(options.from),
    gzip: options.gzip,
    format: options.format === undefined ? PLAIN_FLEET.format : oneOf(NAME, 'format', options.format, LOG_FORMATS),
  };
}

export function demoCommand(writeDemo: WriteDemo): Command {
  return {
    name: NAME,
    summary: 'writes the logs of a simulated fleet',
    usage: USAGE,
    async run(args, io: Io) {
      const fleet = readFleet(args);
      const { files, sitesFile, readings } = await writeDemo({ ...fleet, say: io.err });
      io.err(`${readings} readings in ${files.length} files`);
      io.err(`next: kilter import --data ./data --sites ${sitesFile} ${fleet.out}`);
      return 0;
    },
  };
}
