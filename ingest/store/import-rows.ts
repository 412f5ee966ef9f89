/** The rows in which an import writes down how far it came, and what it refused. */
import type { Db } from './open-store.ts';

/** More refusals of one file say nothing new; their number is in the summary of the import. */
const REFUSALS_A_FILE = 1000;
/** The row of a run that holds its counts. */
const TOTALS = '';

export interface ImportRows {
  totals(): string | null;
  file(path: string): { readonly identity: string; readonly line: number; readonly done: boolean } | null;
  put(path: string, identity: string, line: number, done: boolean): void;
  putTotals(counts: string): void;
  addRefusal(file: string, line: number, what: string, remedy: string): void;
  clear(): void;
}

export function importRows(db: Db, run: string): ImportRows {
  const file = db.prepare<unknown[], { identity: string; line: number; done: number; counts: string }>(
    'SELECT identity, line, done, counts FROM import_progress WHERE run = ? AND file = ?',
  );
  const put = db.prepare(
    'INSERT OR REPLACE INTO import_progress (run, file, identity, line, counts, done) VALUES (?, ?, ?, ?, ?, ?)',
  );
  const clear = db.prepare('DELETE FROM import_progress WHERE run = ?');
  const refuse = db.prepare(
    `INSERT OR IGNORE INTO refusals (file, line, what, remedy) SELECT ?, ?, ?, ? WHERE (SELECT COUNT(*) FROM refusals WHERE file = ?) < ${REFUSALS_A_FILE}`,
  );
  return {
    totals: () => file.get(run, TOTALS)?.counts ?? null,
    file(path) {
      const row = file.get(run, path);
      return row === undefined ? null : { identity: row.identity, line: row.line, done: row.done === 1 };
    },
    put: (path, identity, line, done) => {
      put.run(run, path, identity, line, '', done ? 1 : 0);
    },
    putTotals: (counts) => {
      put.run(run, TOTALS, '', 0, counts, 0);
    },
    addRefusal: (path, line, what, remedy) => {
      refuse.run(path, line, what, remedy, path);
    },
    clear: () => {
      clear.run(run);
    },
  };
}
