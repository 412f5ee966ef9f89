/**
 * The store as tables for one query: readings in their own units, a row each, read from the day blocks as the query
 * asks for them. The tables stand in a database of their own in memory, so nothing that a statement does can reach
 * what is stored.
 */
import Database from 'better-sqlite3';
import { nearestWord } from '../site/nearest-word.ts';
import { COLUMNS, type Column, SOURCE_KINDS, type SourceKind } from '../vocabulary/quantities.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import type { ReadingStore } from './reading-store.ts';
import { meansAllColumns, noQuery, refuseNoQuery, wordsIn } from './sql-statement.ts';

export type SqlValue = string | number | null;

/** A table that is filled before the query, where the query names it. */
export interface SqlTable {
  readonly name: string;
  /** Name and SQL type: 'start INTEGER'; names that are words of SQL in double quotes. */
  readonly columns: readonly string[];
  rows(): Iterable<readonly SqlValue[]>;
}

export interface SqlAnswer {
  readonly columns: readonly string[];
  readonly rows: Iterable<readonly SqlValue[]>;
}

/** The readings table of a source kind. */
export const readingsTable = (kind: SourceKind): string => `${kind}_readings`;

/** The columns of a readings table, in order. */
export function readingsColumns(kind: SourceKind): readonly string[] {
  return ['site', kind, 't', ...COLUMNS[kind].map(({ id }) => id), 'extra'];
}

interface Decoded {
  readonly columns: readonly Column[];
  readonly extras: boolean;
}

/**
 * Runs one read-only statement.
 *
 * @param more tables besides those of readings
 * @param ask  takes the answer while it can be read; rows come as they are found
 * @throws NeedsOperator for a statement that SQL refuses, that writes, or that is more than one
 */
export async function querySql<T>(
  store: ReadingStore,
  more: readonly SqlTable[],
  sql: string,
  ask: (answer: SqlAnswer) => Promise<T>,
): Promise<T> {
  refuseNoQuery(sql);
  const db = new Database(':memory:');
  try {
    const words = wordsIn(sql);
    defineReadings(db, store, words, meansAllColumns(sql));
    for (const table of more) if (words.has(table.name)) fill(db, table);
    const statement = db.prepare<[], SqlValue[]>(sql);
    if (!statement.readonly || !statement.reader) throw noQuery('the statement changes something');
    const columns = statement.columns().map(({ name }) => name);
    return await ask({ columns, rows: statement.raw().iterate() });
  } catch (error) {
    throw asStatementMistake(error, more);
  } finally {
    db.close();
  }
}

function asStatementMistake(error: unknown, tables: readonly SqlTable[]): unknown {
  if (!(error instanceof Error) || error instanceof NeedsOperator) return error;
  const where = 'kilter sql';
  if (/more than one statement/.test(error.message)) {
    return new NeedsOperator({ where, what: 'there is more than one statement', remedy: 'run them one at a time' });
  }
  if (!(error instanceof Database.SqliteError)) return error;
  return new NeedsOperator({ where, what: error.message, remedy: remedyFor(error.message, tables) }, { cause: error });
}

function remedyFor(message: string, tables: readonly SqlTable[]): string {
  if (/near "(limit|end|group)"/i.test(message)) {
    return 'end, limit and group are words of SQL: as columns write "end", "limit", "group" in double quotes';
  }
  const missing = /^no such (table|column): (?:\w+\.)?(\w+)$/.exec(message);
  const known =
    missing?.[1] === 'table'
      ? [...SOURCE_KINDS.map(readingsTable), ...tables.map(({ name }) => name)]
      : [...SOURCE_KINDS.flatMap(readingsColumns), ...tables.flatMap(({ columns }) => columns.map(columnName))];
  const near = missing === null ? null : nearestWord(missing[2]!, known);
  return near === null ? 'kilter help sql lists the tables and their columns' : `did you mean ${near}?`;
}

const columnName = (column: string): string => column.split(' ')[0]!.replaceAll('"', '');

function fill(db: Database.Database, { name, columns, rows }: SqlTable): void {
  db.exec(`CREATE TABLE ${name} (${columns.join(', ')})`);
  const put = db.prepare(`INSERT INTO ${name} VALUES (${columns.map(() => '?').join(', ')})`);
  db.transaction(() => {
    for (const row of rows()) put.run(...row);
  })();
}

function defineReadings(
  db: Database.Database,
  store: ReadingStore,
  words: ReadonlySet<string>,
  meansAll: boolean,
): void {
  db.exec('CREATE TABLE _sources (source INTEGER PRIMARY KEY, site TEXT, kind TEXT, name TEXT)');
  const put = db.prepare('INSERT INTO _sources (site, kind, name, source) VALUES (?, ?, ?, ?)');
  for (const { source, site, kind, id } of store.sources()) put.run(site, kind, id, source);
  for (const kind of SOURCE_KINDS) {
    const decoded: Decoded = {
      columns: COLUMNS[kind].filter(({ id }) => meansAll || words.has(id)),
      extras: meansAll || words.has('extra'),
    };
    defineKind(db, store, kind, decoded);
  }
}

/** A table that answers for one source at a time, and the view that shows it for all. */
function defineKind(db: Database.Database, store: ReadingStore, kind: SourceKind, decoded: Decoded): void {
  const rowsTable = `_${kind}_rows`;
  db.table(rowsTable, {
    columns: ['t', ...COLUMNS[kind].map(({ id }) => id), 'extra'],
    parameters: ['source'],
    *rows(source: unknown) {
      if (typeof source === 'number') yield* sourceRows(store, kind, source, decoded);
    },
  });
  // What the driver hands over as a double is a whole number again, so that t / 3600000 divides as integers do.
  const whole = (column: string): string => `CAST(r.${column} AS INTEGER) AS ${column}`;
  const columns = [
    's.site AS site',
    `s.name AS ${kind}`,
    whole('t'),
    ...COLUMNS[kind].map(({ id, decimals, words }) =>
      decimals === 0 && words === null ? whole(id) : `r.${id} AS ${id}`,
    ),
    'r.extra AS extra',
  ];
  // The empty second part keeps the view whole in a join: it is then read once and indexed, where it would else be
  // read again for every row of the other side (measured: 45 s instead of 11 ms for 5,000 rows). Conditions on site
  // and id still reach the sources.
  db.exec(
    `CREATE VIEW ${readingsTable(kind)} AS
     SELECT ${columns.join(', ')} FROM _sources AS s CROSS JOIN ${rowsTable} AS r
     WHERE s.kind = '${kind}' AND r.source = s.source
     UNION ALL SELECT ${columns.map(() => 'NULL').join(', ')} FROM _sources WHERE 0`,
  );
}

/** A day at a time; columns that the statement does not name stay unread. */
function* sourceRows(
  store: ReadingStore,
  kind: SourceKind,
  source: number,
  { columns, extras }: Decoded,
): Generator<SqlValue[]> {
  const indexes = new Set(columns.map(({ index }) => index));
  const divisors = COLUMNS[kind].map(({ decimals }) => 10 ** decimals);
  const row: SqlValue[] = new Array<SqlValue>(COLUMNS[kind].length + 2).fill(null);
  for (const { day } of store.heads(source, T_MIN_MS, T_MAX_MS)) {
    for (const block of store.readBlocks(source, day, day, { columns: indexes, divisors, extras })) {
      for (let i = 0; i < block.tMs.length; i++) {
        row[0] = block.tMs[i]!;
        for (const { index, words } of columns) {
          const value = block.columns[index]?.[i] ?? Number.NaN;
          row[index + 1] = Number.isNaN(value) ? null : words === null ? value : (words[value] ?? null);
        }
        const extra = block.extras.get(i);
        row[row.length - 1] = extra === undefined ? null : JSON.stringify(extra);
        yield row;
      }
    }
  }
}
