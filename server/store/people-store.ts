/** The only SQL of the people's database: what people wrote. For now the marks they put on backup events. */
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { asNeedsOperator } from '../../ingest/store/open-store.ts';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import type { Occasion } from '../contract/event.ts';

const FILE = 'people.sqlite';
const BUSY_TIMEOUT_MS = 10_000;

const MIGRATIONS: readonly string[] = [
  `
  -- Every mark as it was said; of one site and start the newest holds. t, at: epoch ms.
  CREATE TABLE event_marks (
    id INTEGER PRIMARY KEY,
    site TEXT NOT NULL,
    t INTEGER NOT NULL,
    occasion TEXT NOT NULL CHECK (occasion IN ('grid_loss', 'test', 'unknown')),
    said_by TEXT NOT NULL,
    at INTEGER NOT NULL
  ) STRICT;
  CREATE INDEX event_marks_by_site ON event_marks (site, t, id);

  CREATE TABLE counters (name TEXT PRIMARY KEY, value INTEGER NOT NULL) STRICT, WITHOUT ROWID;
  INSERT INTO counters VALUES ('change', 0);
  `,
];

const SQL = {
  add: 'INSERT INTO event_marks (site, t, occasion, said_by, at) VALUES (?, ?, ?, ?, ?)',
  bump: `UPDATE counters SET value = value + 1 WHERE name = 'change'`,
  change: `SELECT value FROM counters WHERE name = 'change'`,
  marks: 'SELECT t, occasion, said_by AS by, at FROM event_marks WHERE site = ? ORDER BY id',
} as const;

export interface StoredMark {
  /** Start of the event as it was when the mark was put. */
  readonly t: number;
  readonly occasion: Occasion;
  readonly by: string;
  readonly at: number;
}

export interface PeopleStore {
  /** Raised with everything that is written. */
  change(): number;
  /** @throws NeedsOperator where it can't be written */
  addMark(site: string, mark: StoredMark): void;
  /** In the order in which they were said. */
  marks(site: string): StoredMark[];
  close(): void;
}

/** Opens the database, makes it where it is not there. @throws NeedsOperator where it can't be used */
export function openPeopleStore(folder: string): PeopleStore {
  try {
    mkdirSync(folder, { recursive: true });
    const db = new Database(join(folder, FILE), { timeout: BUSY_TIMEOUT_MS });
    db.pragma('journal_mode = WAL');
    db.pragma('synchronous = FULL');
    migrate(db, join(folder, FILE));
    const add = db.prepare(SQL.add);
    const bump = db.prepare(SQL.bump);
    const change = db.prepare<[], { value: number }>(SQL.change);
    const marks = db.prepare<[string], StoredMark>(SQL.marks);
    return {
      change: () => change.get()?.value ?? 0,
      addMark(site, { t, occasion, by, at }) {
        try {
          db.transaction(() => {
            add.run(site, t, occasion, by, at);
            bump.run();
          }).immediate();
        } catch (error) {
          // A full disk is said in words; nothing of the mark is kept.
          throw asNeedsOperator(error, folder);
        }
      },
      marks: (site) => marks.all(site),
      close: () => {
        db.close();
      },
    };
  } catch (error) {
    throw asNeedsOperator(error, folder);
  }
}

function migrate(db: Database.Database, path: string): void {
  const version = (): number => db.pragma('user_version', { simple: true }) as number;
  if (version() > MIGRATIONS.length) {
    throw new NeedsOperator({
      where: path,
      what: `the database has version ${version()}, this program knows up to ${MIGRATIONS.length}`,
      remedy: 'run the newer program that wrote it',
    });
  }
  db.transaction(() => {
    for (let next = version(); next < MIGRATIONS.length; next++) {
      db.exec(MIGRATIONS[next]!);
      db.pragma(`user_version = ${next + 1}`);
    }
  }).immediate();
}
