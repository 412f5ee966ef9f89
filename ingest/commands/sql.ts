/** `kilter sql`: one read-only statement over what is stored and found. */
import { openStoreToRead } from '../store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../store/reading-store.ts';
import { refuseNoQuery, wordsIn } from '../store/sql-statement.ts';
import { alarmsTable, settingsTable, sitesTable } from '../store/sql-tables.ts';
import { querySql, type SqlAnswer, type SqlTable, type SqlValue } from '../store/sql-view.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { openAnalysed } from './analysed-store.ts';
import { eventsTable, findingsTable } from './answer-tables.ts';
import type { Command, Io } from './command.ts';
import { csvCell } from './csv-cell.ts';
import { counted } from './figures.ts';
import { readOptions, required } from './read-options.ts';
import { textTable } from './text-table.ts';

const NAME = 'sql';
const OPTIONS = { data: 'value', csv: 'flag', json: 'flag' } as const;

/** So many rows decide how wide the columns of a table for people are. */
const ROWS_AT_ONCE = 500;

const USAGE = `Usage: kilter sql --data DIR [--csv | --json] 'select …'

Runs one read-only statement and prints its rows. Times are epoch milliseconds, UTC; quantities are in
their own units (229.8, not 2298); what is absent is NULL.

  unit_readings    site, unit, t, a column for each quantity, mode as a word, extra (JSON)
  pack_readings    site, pack, t, …
  bank_readings    site, bank, t, …
  meter_readings   site, meter, t, …
  findings, events the keys of kilter findings --json and kilter events --json; lists are JSON
  sites            site, name, timezone, "group", commissioned, sample_interval_s, units, packs, t_last
  settings         site, unit, key, value, t
  alarms           site, unit, pack, bank, meter, t, alarm, state

Conditions on site and unit, pack or meter keep a statement quick: only those readings are read.
Sources are not read at the same instant: to join two, bring each to minutes first (the last example).
As names of columns "end", "limit" and "group" need their double quotes.

  --data DIR   the data folder that kilter import wrote to
  --csv        a header and a row each
  --json       one JSON object a row

Examples:
  kilter sql --data ./data 'select site, kind, count(*) from findings group by site, kind'
  kilter sql --data ./data --csv "select unit, avg(output_power_w) from unit_readings where site = 'millpond' group by unit"
  kilter sql --data ./data "select datetime(t / 1000, 'unixepoch') as time, grid_voltage_v from unit_readings limit 5"
  kilter sql --data ./data "with m as (select unit, t / 60000 as minute, avg(output_power_w) as w from unit_readings
    where site = 'millpond' group by unit, minute)
    select a.minute * 60000 as t, a.w / (a.w + b.w) as share from m a join m b using (minute)
    where a.unit = 'u1' and b.unit = 'u2'"`;

async function run(args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(NAME, OPTIONS, args);
  const folder = required(NAME, 'data', options.data, './data');
  const where = `kilter ${NAME}`;
  if (options.csv && options.json) {
    throw new NeedsOperator({ where, what: '--csv and --json are both given', remedy: 'give one of them' });
  }
  const [sql, ...more] = rest;
  if (sql === undefined) {
    throw new NeedsOperator({
      where,
      what: 'there is no statement',
      remedy: "give one in quotes, for example 'select * from sites'",
    });
  }
  if (more.length > 0) {
    throw new NeedsOperator({
      where,
      what: `"${more[0]}" stands outside the statement`,
      remedy: 'put the whole statement in one pair of quotes',
    });
  }
  // Before the analysis, which a mistake should not have to wait for.
  refuseNoQuery(sql);
  const print = options.json ? printJson : options.csv ? printCsv : printTable;
  const ask = (answer: SqlAnswer): Promise<void> => print(answer, io);
  const words = wordsIn(sql);
  if (words.has('findings') || words.has('events')) {
    await askAnalysed(folder, sql, ask);
    return 0;
  }
  const db = openStoreToRead(folder);
  try {
    const store = createReadingStore(db);
    await querySql(store, groundTables(store), sql, ask);
    return 0;
  } finally {
    db.close();
  }
}

const groundTables = (store: ReadingStore): SqlTable[] => [sitesTable(store), settingsTable(store), alarmsTable(store)];

/** Findings and events are brought up to date first, as by `kilter findings`. */
async function askAnalysed(folder: string, sql: string, ask: (answer: SqlAnswer) => Promise<void>): Promise<void> {
  const analysed = openAnalysed(folder, null);
  try {
    const { store } = analysed;
    const answers = store.recordSites().flatMap((site) => analysed.analyse(site)?.answer ?? []);
    const tables = [
      ...groundTables(store),
      findingsTable(answers.flatMap(({ findings }) => findings)),
      eventsTable(answers.flatMap(({ events }) => events)),
    ];
    await querySql(store, tables, sql, ask);
  } finally {
    analysed.close();
  }
}

/** Rows a few hundred at a time, with the output waited for in between. */
async function inChunks(rows: SqlAnswer['rows'], io: Io, take: (chunk: SqlValue[][]) => void): Promise<void> {
  let chunk: SqlValue[][] = [];
  for (const row of rows) {
    chunk.push([...row]);
    if (chunk.length < ROWS_AT_ONCE) continue;
    take(chunk);
    chunk = [];
    await io.drained();
  }
  if (chunk.length > 0) take(chunk);
}

async function printJson({ columns, rows }: SqlAnswer, io: Io): Promise<void> {
  const names = distinct(columns);
  await inChunks(rows, io, (chunk) => {
    for (const row of chunk) io.out(JSON.stringify(Object.fromEntries(names.map((name, i) => [name, row[i]]))));
  });
}

/** `t` and `t_2` where a statement gives one name twice, so that no value is lost. */
export function distinct(names: readonly string[]): string[] {
  const given = new Map<string, number>();
  return names.map((name) => {
    const count = (given.get(name) ?? 0) + 1;
    given.set(name, count);
    return count === 1 ? name : `${name}_${count}`;
  });
}

async function printCsv({ columns, rows }: SqlAnswer, io: Io): Promise<void> {
  io.out(distinct(columns).map(csvCell).join(','));
  await inChunks(rows, io, (chunk) => {
    for (const row of chunk) io.out(row.map(csvCell).join(','));
  });
}

async function printTable({ columns, rows }: SqlAnswer, io: Io): Promise<void> {
  let count = 0;
  await inChunks(rows, io, (chunk) => {
    const lines = textTable(
      columns.map((title, i) => ({
        title,
        align: chunk.every((row) => typeof row[i] !== 'string') ? ('right' as const) : ('left' as const),
        cells: chunk.map((row) => (row[i] === null ? '' : String(row[i]))),
      })),
      Number.POSITIVE_INFINITY,
    );
    for (const line of count === 0 ? lines : lines.slice(1)) io.out(line);
    count += chunk.length;
  });
  io.err(count === 0 ? 'no rows' : counted(count, 'row'));
}

export const sqlCommand: Command = {
  name: NAME,
  summary: 'one read-only SQL statement over readings, findings and events',
  usage: USAGE,
  run,
};
