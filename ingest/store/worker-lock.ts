/**
 * The worker lock of a data folder: only its holder writes derived tables. It is an open transaction on a small
 * database, so the system releases it however the holder ends, kill -9 included.
 */
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { asNeedsOperator } from './open-store.ts';

const FILE = 'worker-lock.sqlite';

export interface WorkerLock {
  release(): void;
}

/** @returns the lock, or null where another process holds it */
export function takeWorkerLock(folder: string, waitMs = 0): WorkerLock | null {
  let db: Database.Database | null = null;
  try {
    db = new Database(join(folder, FILE), { timeout: waitMs });
    db.exec('BEGIN EXCLUSIVE');
    const held = db;
    return { release: () => held.close() };
  } catch (error) {
    db?.close();
    if ((error as { code?: string }).code?.startsWith('SQLITE_BUSY')) return null;
    throw asNeedsOperator(error, folder);
  }
}
