/** How sources fare, and what couriers say of their clocks: written by whoever runs them, read by the board. */
import type { SourceStatus } from '../vocabulary/source-status.ts';
import type { Db } from './open-store.ts';

/** Which process runs a source: the worker, or the server (push). */
export type StatusWriter = 'worker' | 'server';

/** A status as it was written; `perMinute` is null before a source has run for a minute. */
export interface WrittenStatus extends SourceStatus {
  readonly perMinute: number | null;
}

export interface StoredStatus extends WrittenStatus {
  readonly by: StatusWriter;
  /** When it was written, epoch ms: a status that is older than its writer's pace is no longer true. */
  readonly at: number;
}

export interface CourierClock {
  readonly name: string;
  /** When it was last heard, epoch ms. */
  readonly at: number;
  /** How far its clock is ahead of the server's; null: not measured. */
  readonly offsetMs: number | null;
}

const SQL = {
  drop: 'DELETE FROM source_status WHERE by = ?',
  put: 'INSERT OR REPLACE INTO source_status (name, by, place, at, body) VALUES (?, ?, ?, ?, ?)',
  all: 'SELECT by, at, body FROM source_status ORDER BY by DESC, place',
  putClock: 'INSERT OR REPLACE INTO courier_clocks (name, at, offset_ms) VALUES (?, ?, ?)',
  clocks: 'SELECT name, at, offset_ms AS offsetMs FROM courier_clocks ORDER BY name',
} as const;

export interface SourceStatusStore {
  /** Replaces all that this writer wrote: a source that is gone is no longer there. */
  put(by: StatusWriter, at: number, statuses: readonly WrittenStatus[]): void;
  /** The worker's sources first, in the order of the configuration. */
  all(): readonly StoredStatus[];
  putClock(clock: CourierClock): void;
  clocks(): readonly CourierClock[];
}

export function createSourceStatusStore(db: Db): SourceStatusStore {
  const drop = db.prepare<[StatusWriter]>(SQL.drop);
  const put = db.prepare<[string, StatusWriter, number, number, string]>(SQL.put);
  const all = db.prepare<[], { by: StatusWriter; at: number; body: string }>(SQL.all);
  const putClock = db.prepare<[string, number, number | null]>(SQL.putClock);
  const clocks = db.prepare<[], CourierClock>(SQL.clocks);
  return {
    put(by, at, statuses) {
      db.transaction(() => {
        drop.run(by);
        for (const [place, status] of statuses.entries()) put.run(status.name, by, place, at, JSON.stringify(status));
      }).immediate();
    },
    // Written by `put` of the same program; the body is its own.
    all: () => all.all().map(({ by, at, body }) => ({ ...(JSON.parse(body) as WrittenStatus), by, at })),
    putClock: ({ name, at, offsetMs }) => {
      putClock.run(name, at, offsetMs);
    },
    clocks: () => clocks.all(),
  };
}
