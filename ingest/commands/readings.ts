/** `kilter readings`: what is stored of one source, or figures of intervals of it. */
import { openStoreToRead } from '../store/open-store.ts';
import { createReadingStore, type ReadingStore, type StoredSource } from '../store/reading-store.ts';
import type { Column } from '../vocabulary/quantities.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { DAY_MS, T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import { askedColumns, askedSource } from './asked-source.ts';
import type { Command, Io } from './command.ts';
import { intervalsOf } from './interval-figures.ts';
import { readOptions, refuseRest, required } from './read-options.ts';
import { readDuration, readTime } from './read-time.ts';
import { intervalCsv, intervalHeader, intervalJson, readingCsv, readingHeader, readingJson } from './reading-lines.ts';
import { type AskedReadings, columnsPresent, intervalInputs, readingDays } from './stored-readings.ts';

const NAME = 'readings';
const OPTIONS = {
  data: 'value',
  site: 'value',
  unit: 'value',
  pack: 'value',
  bank: 'flag',
  meter: 'value',
  quantity: 'value',
  from: 'value',
  to: 'value',
  every: 'value',
  csv: 'flag',
  json: 'flag',
} as const;

/** So many intervals are put out before the output is waited for. */
const INTERVALS_AT_ONCE = 1000;

const USAGE = `Usage: kilter readings --data DIR --site S (--unit U | --pack P | --bank | --meter M)
                       [--quantity Q,…] [--from T] [--to T] [--every 1m] [--csv | --json]

Prints what is stored of one source, in order of time, as sent and rounded to what is kept; or, with
--every, the least, mean and greatest value of each interval.

  --data DIR       the data folder that kilter import wrote to
  --site S         the site
  --unit U …       the source: one unit, one pack, the bank or one meter
  --quantity Q,…   these quantities only, in this order; without it all that have a value
  --from T         from this time on: 2026-03-28T14:00:00Z, or a date for its midnight UTC
  --to T           up to this time, itself not included
  --every 1m       intervals of 15s, 1m, 1h, 1d …, beginning at whole multiples, UTC
  --csv            a header and a row each (this is what you get without --json); absent: empty
  --json           one JSON object a line; absent: left out

Examples:
  kilter readings --data ./data --site millpond --unit u1 --from 2026-03-28 --to 2026-03-29
  kilter readings --data ./data --site millpond --pack p1 --quantity soc_pct --every 1h --json`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  refuseRest(NAME, rest);
  const folder = required(NAME, 'data', options.data, './data');
  const site = required(NAME, 'site', options.site, 'millpond');
  if (options.csv && options.json) throw mistake('--csv and --json are both given', 'give one of them');
  const from = options.from === undefined ? T_MIN_MS : readTime(NAME, 'from', options.from);
  const to = options.to === undefined ? T_MAX_MS + 1 : readTime(NAME, 'to', options.to);
  if (to <= from) throw mistake('--to is not after --from', 'give a later --to');
  const everyMs = options.every === undefined ? null : readEvery(options.every);
  const db = openStoreToRead(folder);
  try {
    const store = createReadingStore(db);
    const { unit, pack, bank, meter } = options;
    const source = askedSource(store, NAME, { site, unit, pack, bank, meter });
    const window = { source: source.source, from, to };
    const isAll = options.quantity === undefined;
    const columns = isAll
      ? columnsPresent(store, source.kind, window)
      : askedColumns(NAME, source.kind, options.quantity!);
    const asked = { ...window, columns };
    const print = { store, source, isJson: options.json, io };
    const lines =
      everyMs === null ? await printReadings(print, asked, isAll) : await printIntervals(print, asked, everyMs);
    if (lines === 0) io.err(`${site}, ${source.kind} ${source.id}: nothing is stored of the time asked for`);
    return 0;
  } finally {
    db.close();
  }
}

const mistake = (what: string, remedy: string): NeedsOperator =>
  new NeedsOperator({ where: `kilter ${NAME}`, what, remedy });

function readEvery(text: string): number {
  const everyMs = readDuration(NAME, 'every', text);
  if (DAY_MS % everyMs === 0 || everyMs % DAY_MS === 0) return everyMs;
  throw mistake(`--every is "${text}", and days do not divide into that`, 'give for example 15s, 1m, 5m, 1h, 6h or 1d');
}

interface Print {
  readonly store: ReadingStore;
  readonly source: StoredSource;
  readonly isJson: boolean;
  readonly io: Io;
}

/** @returns how many readings were printed */
async function printReadings(
  { store, source, isJson, io }: Print,
  asked: AskedReadings,
  isAll: boolean,
): Promise<number> {
  const { columns } = asked;
  if (!isJson) io.out(readingHeader(source, columns));
  let count = 0;
  let extras = 0;
  for (const rows of readingDays(store, asked, isAll)) {
    for (const row of rows) {
      if (row.extras !== undefined) extras++;
      io.out(isJson ? readingJson(source, columns, row) : readingCsv(source, columns, row));
    }
    count += rows.length;
    await io.drained();
  }
  if (extras > 0 && !isJson) {
    io.err(`${extras} readings have keys outside the vocabulary, which have no column; --json prints them`);
  }
  return count;
}

/** @returns how many intervals were printed */
async function printIntervals(
  { store, source, isJson, io }: Print,
  asked: AskedReadings,
  everyMs: number,
): Promise<number> {
  const columns = averaged(asked.columns, io);
  if (!isJson) io.out(intervalHeader(source, columns));
  let count = 0;
  for (const interval of intervalsOf(intervalInputs(store, { ...asked, columns }, everyMs), everyMs)) {
    io.out(isJson ? intervalJson(source, columns, interval) : intervalCsv(source, columns, interval));
    count++;
    if (count % INTERVALS_AT_ONCE === 0) await io.drained();
  }
  return count;
}

/** Words have no mean. */
function averaged(columns: readonly Column[], io: Io): readonly Column[] {
  const words = columns.filter(({ words }) => words !== null).map(({ id }) => id);
  const kept = columns.filter(({ words }) => words === null);
  if (words.length === 0) return kept;
  if (kept.length === 0) throw mistake(`${words.join(', ')} has no mean`, 'leave out --every to see each reading');
  io.err(`${words.join(', ')} is left out: words have no mean; without --every each reading is printed`);
  return kept;
}

export const readingsCommand: Command = {
  name: NAME,
  summary: 'what is stored of one unit, pack, bank or meter',
  usage: USAGE,
  run,
};
