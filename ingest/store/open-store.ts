/** Opens the readings database of a data folder, and says in words why it can't. */
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import { MIGRATIONS } from './schema.ts';

const FILE = 'readings.sqlite';
/** Long enough for another process to end its transaction, short enough to be told. */
const BUSY_TIMEOUT_MS = 60_000;
/** Pages in memory, kB: day blocks are read once, so a large cache buys nothing. */
const CACHE_KB = 16_000;
/** Blobs of 10 to 60 kB: measured, 2 kB pages waste half as much at a blob's end as 4 kB ones and read as fast. */
const PAGE_BYTES = 2048;
/** Readers take pages from the system's own cache, as far as this much of the file, and copy none. */
const READERS_MAP_BYTES = 2 ** 31;
/** 8 MB of log: measured, live transactions then cost a tenth less than with the usual thousand pages. */
const CHECKPOINT_PAGES = 4000;

export type Db = Database.Database;

/** The path of the database in a data folder. */
export function storePath(folder: string): string {
  return join(folder, FILE);
}

/**
 * Opens for reading and writing; makes the folder and the tables where they are not there yet.
 *
 * @throws NeedsOperator where the folder can't be made, the file is no database, or is newer than this program
 */
export function openStore(folder: string): Db {
  try {
    mkdirSync(folder, { recursive: true });
    const db = new Database(storePath(folder), { timeout: BUSY_TIMEOUT_MS });
    db.pragma(`page_size = ${PAGE_BYTES}`);
    db.pragma('journal_mode = WAL');
    // A flush is one large transaction, so a sync at each costs little and survives a loss of power.
    db.pragma('synchronous = FULL');
    db.pragma(`wal_autocheckpoint = ${CHECKPOINT_PAGES}`);
    db.pragma(`cache_size = -${CACHE_KB}`);
    db.pragma('foreign_keys = ON');
    migrate(db, folder);
    return db;
  } catch (error) {
    throw asNeedsOperator(error, folder);
  }
}

/** Opens for reading only. @throws NeedsOperator where there is no database yet, or it can't be read */
export function openStoreToRead(folder: string): Db {
  if (!existsSync(storePath(folder))) {
    throw new NeedsOperator({
      where: folder,
      what: 'there are no stored readings in this folder',
      remedy: 'give --data the folder that kilter import wrote to, or import first',
    });
  }
  try {
    let db = openReadOnly(folder);
    const version = versionOf(db);
    if (version < MIGRATIONS.length) {
      db.close();
      // An older file is brought up to date by one opening for writing; then it is read as asked.
      openStore(folder).close();
      db = openReadOnly(folder);
    }
    refuseNewer(version, folder);
    return db;
  } catch (error) {
    throw asNeedsOperator(error, folder);
  }
}

function openReadOnly(folder: string): Db {
  const db = new Database(storePath(folder), { readonly: true, timeout: BUSY_TIMEOUT_MS });
  db.pragma(`cache_size = -${CACHE_KB}`);
  db.pragma(`mmap_size = ${READERS_MAP_BYTES}`);
  return db;
}

function versionOf(db: Db): number {
  return db.pragma('user_version', { simple: true }) as number;
}

function refuseNewer(version: number, folder: string): void {
  if (version > MIGRATIONS.length) {
    throw new NeedsOperator({
      where: storePath(folder),
      what: `the database has version ${version}, this program knows up to ${MIGRATIONS.length}`,
      remedy: 'run the newer program that wrote it',
    });
  }
}

function migrate(db: Db, folder: string): void {
  refuseNewer(versionOf(db), folder);
  if (versionOf(db) === MIGRATIONS.length) return;
  db.transaction(() => {
    // Read again inside the transaction: another process may have been faster.
    for (let version = versionOf(db); version < MIGRATIONS.length; version++) {
      db.exec(MIGRATIONS[version]!);
      db.pragma(`user_version = ${version + 1}`);
    }
  }).immediate();
}

const REMEDIES: Readonly<Record<string, string>> = {
  EACCES: 'choose a folder that you may write to, or change its rights',
  EROFS: 'choose a folder on a disk that can be written',
  ENOSPC: 'free space on the disk and run the command again; what was stored is still there',
  ENOTDIR: 'choose a folder, not a file',
  EEXIST: 'choose a folder, not a file',
  SQLITE_FULL: 'free space on the disk and run the command again; what was stored is still there',
  SQLITE_BUSY: 'another kilter is writing to this folder; wait for it to end, or stop it',
  SQLITE_NOTADB: 'this file is no Kilter database; choose another folder',
  SQLITE_CORRUPT: 'the database is damaged; restore it from a copy, or import the logs into a new folder',
  SQLITE_CANTOPEN: 'choose a folder that you may write to, or change its rights',
  SQLITE_READONLY: 'choose a folder that you may write to, or change its rights',
};

/** Turns what the disk or the database says into words; leaves everything else as it is. */
export function asNeedsOperator(error: unknown, folder: string): unknown {
  if (!(error instanceof Error) || error instanceof NeedsOperator) return error;
  const code = String((error as Error & { code?: unknown }).code ?? '');
  const remedy = REMEDIES[code] ?? REMEDIES[code.replace(/^(SQLITE_[A-Z]+)_.*$/, '$1')];
  if (remedy === undefined) return error;
  return new NeedsOperator({ where: folder, what: error.message, remedy }, { cause: error });
}
