/**
 * The journal as this process sees it: readings that came live, are durable, and stand in no block yet. Every process
 * follows the rows that any process wrote, so that what is unsealed is seen by all at once.
 */
import type { SourceKind } from '../vocabulary/quantities.ts';
import { readJournalBlob } from './journal-blob.ts';
import { JournalTail } from './journal-tail.ts';
import type { Db } from './open-store.ts';

const SQL = {
  state: `SELECT (SELECT MIN(change) FROM journal) AS first, (SELECT MAX(change) FROM journal) AS last,
    (SELECT value FROM counters WHERE name = 'block_writes') AS blockWrites`,
  rows: 'SELECT change, data FROM journal WHERE change > ? ORDER BY change LIMIT 64',
  add: 'INSERT INTO journal (change, readings, data) VALUES (?, ?, ?)',
  drop: `DELETE FROM journal WHERE change <= ? AND change <=
    (SELECT MAX(change) FROM (SELECT change FROM journal ORDER BY change LIMIT ?))`,
  newestInBlocks: 'SELECT t_last AS t FROM blocks WHERE source = ? ORDER BY day DESC LIMIT 1',
  source: 'SELECT site, kind FROM sources WHERE id = ?',
  countBlockWrite: `UPDATE counters SET value = value + 1 WHERE name = 'block_writes'`,
} as const;

interface SourceOwner {
  readonly site: string;
  readonly kind: SourceKind;
}

export interface Journal {
  /** Takes in what was written and sealed since; call it before blocks are read: what is sealed meanwhile is in both. */
  follow(): JournalTail;
  /** The newest time of a source in journal and blocks, or −∞. After `follow`. */
  newest(source: number): number;
  /** A newer reading of the source is being written; `forget` where it was not. */
  raiseNewest(source: number, t: number): void;
  /** Writes a blob of readings, inside a transaction that `follow` was called in. */
  add(change: number, readings: number, blob: Uint8Array): void;
  /** The transaction that added the blob is committed: its readings are seen from now on. */
  added(change: number, blob: Uint8Array): void;
  /** Deletes rows up to a change number, at most `most`; last in its transaction. @returns how many */
  drop(upTo: number, most: number): number;
  /** A transaction was rolled back: what was seen in it may never have been. */
  forget(): void;
  ownerOf(source: number): SourceOwner;
  /** A block was written: what any process keeps of blocks is old. */
  countBlockWrite(): void;
}

const journals = new WeakMap<Db, Journal>();

/** The journal of a database, one for all who read through the same connection. */
export function journalOf(db: Db): Journal {
  let journal = journals.get(db);
  if (journal === undefined) {
    journal = createJournal(db);
    journals.set(db, journal);
  }
  return journal;
}

function createJournal(db: Db): Journal {
  type State = { first: number | null; last: number | null; blockWrites: number };
  const state = db.prepare<[], State>(SQL.state);
  const rowsAfter = db.prepare<[number], { change: number; data: Uint8Array }>(SQL.rows);
  const newestInBlocks = db.prepare<[number], { t: number }>(SQL.newestInBlocks);
  const ownerOf = db.prepare<[number], SourceOwner>(SQL.source);
  const add = db.prepare<[number, number, Uint8Array]>(SQL.add);
  const drop = db.prepare<[number, number]>(SQL.drop);
  const countBlockWrite = db.prepare<[]>(SQL.countBlockWrite);
  const tail = new JournalTail();
  const owners = new Map<number, SourceOwner>();
  const newest = new NewestTimes();
  let blockWrites = -1;
  return {
    follow() {
      const now = state.get()!;
      if (now.blockWrites !== blockWrites) newest.clear();
      blockWrites = now.blockWrites;
      tail.dropBefore(now.first ?? Number.POSITIVE_INFINITY);
      while (now.last !== null && tail.last < now.last) {
        const rows = rowsAfter.all(tail.last);
        // Sealed since a moment ago: then they stand in the blocks that are read next.
        if (rows.length === 0) break;
        for (const { change, data } of rows) {
          const read = readJournalBlob(data);
          for (let row = 0; row < read.count; row++) newest.raiseKnown(read.source[row]!, read.tMs[row]!);
          tail.add(change, data, read);
        }
      }
      return tail;
    },
    newest(source) {
      const known = newest.of(source);
      if (!Number.isNaN(known)) return known;
      const stored = newestInBlocks.get(source)?.t ?? Number.NEGATIVE_INFINITY;
      const t = Math.max(stored, tail.newest(source) ?? stored);
      newest.put(source, t);
      return t;
    },
    raiseNewest: (source, t) => newest.put(source, t),
    add: (change, readings, blob) => {
      add.run(change, readings, blob);
    },
    added: (change, blob) => tail.add(change, blob, null),
    drop: (upTo, most) => drop.run(upTo, most).changes,
    forget() {
      tail.clear();
      tail.last = 0;
      owners.clear();
      newest.clear();
      blockWrites = -1;
    },
    ownerOf(source) {
      let owner = owners.get(source);
      if (owner === undefined) {
        owner = ownerOf.get(source);
        if (owner === undefined) throw new RangeError(`There is no source ${source} in this store`);
        owners.set(source, owner);
      }
      return owner;
    },
    countBlockWrite: () => {
      countBlockWrite.run();
    },
  };
}

/** Newest times by number of source; NaN where it has to be looked up. */
class NewestTimes {
  #t = new Float64Array(256).fill(Number.NaN);

  of(source: number): number {
    return source < this.#t.length ? this.#t[source]! : Number.NaN;
  }

  put(source: number, t: number): void {
    if (source >= this.#t.length) {
      const longer = new Float64Array(source * 2).fill(Number.NaN);
      longer.set(this.#t);
      this.#t = longer;
    }
    this.#t[source] = t;
  }

  raiseKnown(source: number, t: number): void {
    if (t > this.of(source)) this.put(source, t);
  }

  clear(): void {
    this.#t.fill(Number.NaN);
  }
}
