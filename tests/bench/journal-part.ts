/** Live batches into the store, against one narrow table through the same library with the same promise to the disk. */
import { readdir, stat } from 'node:fs/promises';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { createLiveDoor, type LiveDoor } from '../../ingest/intake/live-door.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../ingest/store/reading-store.ts';
import { createSealer, type Sealer } from '../../ingest/store/sealer.ts';
import type { SourceKind } from '../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch, SourceKey } from '../../ingest/vocabulary/reading.ts';
import { FIRST_DAY_MS, freshFolder } from './bench-data.ts';
import { type BenchFigure, figure } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';

const SITES = 500;
const UNITS = 3;
const PACKS = 4;
const EVERY_MS = 10_000;
const BATCH = 1000;
/** Batches that wait for their answer at the same time, as a source with a window of unacknowledged messages has them. */
const IN_FLIGHT = 32;
const VALUES = { unit: 20, pack: 12, bank: 0, meter: 0 } as const satisfies { readonly [Kind in SourceKind]: number };
const FLAT = 0.8;
const WORKER_ROWS_A_SECOND = (SITES * (UNITS + PACKS) * 1000) / EVERY_MS;

const SOURCES: readonly SourceKey[] = Array.from({ length: SITES }, (_, n) => `site-${n}`).flatMap((site) => [
  ...Array.from({ length: UNITS }, (_, n): SourceKey => ({ site, kind: 'unit', id: `u${n + 1}` })),
  ...Array.from({ length: PACKS }, (_, n): SourceKey => ({ site, kind: 'pack', id: `p${n + 1}` })),
]);

/** A stream of readings as a fleet sends them: all sources at one instant, then the next. Values wander. */
class FleetStream {
  #at = 0;
  readonly #levels = SOURCES.map(({ kind }) => Int32Array.from({ length: VALUES[kind] }, (_, c) => 400 + 137 * c));
  #noise = 1;

  next(): ReadingBatch {
    const sources: SourceKey[] = [];
    const rows = new Float64Array(BATCH * (3 + 2 * VALUES.unit));
    let length = 0;
    for (let place = 0; place < BATCH; place++, this.#at++) {
      const source = this.#at % SOURCES.length;
      const key = SOURCES[source]!;
      const levels = this.#levels[source]!;
      sources.push(key);
      rows[length] = place;
      rows[length + 1] = FIRST_DAY_MS + Math.floor(this.#at / SOURCES.length) * EVERY_MS + (source % 100);
      rows[length + 2] = levels.length;
      length += 3;
      for (let column = 0; column < levels.length; column++) {
        this.#noise = (Math.imul(this.#noise, 1_103_515_245) + 12_345) | 0;
        levels[column]! += (this.#noise >> 28) & (column % 4 === 0 ? 7 : 1) ? 1 : -1;
        rows[length++] = column;
        rows[length++] = levels[column]!;
      }
    }
    const empty = { extras: [], replacing: [], settings: [], alarms: [], refused: [] } as const;
    return { sources, rows, rowsLength: length, readings: BATCH, lines: BATCH, ...empty };
  }
}

interface Run {
  readonly rowsASecond: number;
  readonly longestMs: number;
}

/** Offers so many rows, and gives the table beside its part of them in turns: whatever else the machine does befalls both. */
async function offer(door: LiveDoor, stream: FleetStream, rows: number, beside: () => void): Promise<Run> {
  let spentMs = 0;
  let longestMs = 0;
  for (let done = 0; done < rows; done += BATCH * IN_FLIGHT) {
    const batches = Array.from({ length: IN_FLIGHT }, () => stream.next());
    const startedMs = performance.now();
    const counts = await Promise.all(batches.map((batch) => door.store(batch)));
    const tookMs = performance.now() - startedMs;
    spentMs += tookMs;
    longestMs = Math.max(longestMs, tookMs);
    if (counts.some(({ stored }) => stored !== BATCH)) throw new Error('Not every reading was new');
    beside();
  }
  return { rowsASecond: (rows / spentMs) * 1000, longestMs };
}

/** One row a value, keyed by series and time; a transaction a batch, synced as ours is. */
class NarrowTable {
  rows = 0;
  #spentMs = 0;
  readonly #stream = new FleetStream();
  readonly #db: Database.Database;
  readonly #store: (batch: ReadingBatch) => void;

  constructor(file: string) {
    this.#db = new Database(file);
    this.#db.pragma('journal_mode = WAL');
    this.#db.pragma('synchronous = FULL');
    this.#db.exec(
      'CREATE TABLE narrow (series INTEGER, t INTEGER, value INTEGER, PRIMARY KEY (series, t)) STRICT, WITHOUT ROWID',
    );
    const put = this.#db.prepare('INSERT OR IGNORE INTO narrow VALUES (?, ?, ?)');
    const series = new Map(SOURCES.map((key, place) => [key, place * 32]));
    this.#store = this.#db.transaction(({ sources, rows, rowsLength }: ReadingBatch) => {
      const first = sources.map((key) => series.get(key)!);
      for (let at = 0; at < rowsLength; ) {
        const end = at + 3 + 2 * rows[at + 2]!;
        const [source, t] = [first[rows[at]!]!, rows[at + 1]!];
        for (at += 3; at < end; at += 2) put.run(source + rows[at]!, t, rows[at + 1]!);
      }
    }).immediate;
  }

  putBatch(): void {
    const batch = this.#stream.next();
    const startedMs = performance.now();
    this.#store(batch);
    this.#spentMs += performance.now() - startedMs;
    this.rows += BATCH;
  }

  get rowsASecond(): number {
    return (this.rows / this.#spentMs) * 1000;
  }

  close(): void {
    this.#db.close();
  }
}

/** Seals all there is. @returns how long it took, and its longest piece */
function seal(sealer: Sealer): { readonly ms: number; readonly longestMs: number } {
  const startedMs = performance.now();
  let longestMs = 0;
  for (let isMore = true; isMore; ) {
    const pieceMs = performance.now();
    isMore = sealer.sealAll(() => false);
    longestMs = Math.max(longestMs, performance.now() - pieceMs);
  }
  return { ms: performance.now() - startedMs, longestMs };
}

async function folderBytes(folder: string): Promise<number> {
  const files = await readdir(folder);
  const sizes = await Promise.all(files.map(async (name) => (await stat(join(folder, name))).size));
  return sizes.reduce((sum, size) => sum + size, 0);
}

export async function journalPart({ sizes, say }: BenchRun): Promise<BenchFigure[]> {
  const folder = await freshFolder('journal');
  const table = new NarrowTable(join(await freshFolder('narrow'), 'narrow.sqlite'));
  const db = openStore(folder);
  try {
    return await measure(createReadingStore(db), table, folder, sizes.journal, say);
  } finally {
    db.close();
    table.close();
  }
}

async function measure(
  store: ReadingStore,
  table: NarrowTable,
  folder: string,
  { rows, narrowRows }: BenchRun['sizes']['journal'],
  say: BenchRun['say'],
): Promise<BenchFigure[]> {
  const door = createLiveDoor(store);
  const sealer = createSealer(store);
  const stream = new FleetStream();
  /** An hour of the fleet, the time between two sealings. */
  const hourRows = Math.round((WORKER_ROWS_A_SECOND * 3600) / BATCH / IN_FLIGHT) * BATCH * IN_FLIGHT;
  const runs: Run[] = [];
  const sealings: { ms: number; longestMs: number }[] = [];
  let bytes = 0;
  let done = 0;
  const beside = (): void => {
    done += BATCH * IN_FLIGHT;
    while (table.rows < Math.min(narrowRows, (done / rows) * narrowRows)) table.putBatch();
  };
  while (done < rows) {
    const before = await folderBytes(folder);
    runs.push(await offer(door, stream, hourRows, beside));
    if (bytes === 0) bytes = (await folderBytes(folder)) - before;
    sealings.push(seal(sealer));
    const [run, sealing] = [runs.at(-1)!, sealings.at(-1)!];
    say(`${done} readings: ${Math.round(run.rowsASecond)} a second, sealed in ${Math.round(sealing.ms)} ms`);
  }
  const share = await workerShare(door, stream);
  const writing = runs.reduce((sum, { rowsASecond }) => sum + hourRows / rowsASecond, 0);
  const sealingS = sealings.reduce((sum, { ms }) => sum + ms, 0) / 1000;
  const narrow = table.rowsASecond;
  const words = (n: number): string => n.toLocaleString('en');
  return [
    figure(
      'journal',
      `live batches of ${BATCH} readings, ${IN_FLIGHT} waiting at a time`,
      done / writing,
      'readings/s',
      {
        against: { name: 'narrow table, a transaction a batch', value: narrow },
        asked: { of: 'ratio', is: 'least', limit: 50 },
        note: `${words(done)} readings of ${SOURCES.length} sources, ${words(table.rows)} for the table; both synced at each commit; sealing not counted`,
      },
    ),
    figure('journal', 'the same, its last hour', runs.at(-1)!.rowsASecond, 'readings/s', {
      against: { name: 'its first', value: runs[0]!.rowsASecond },
      asked: { of: 'ratio', is: 'least', limit: FLAT },
    }),
    figure('journal', 'the same and sealed, one after the other', done / (writing + sealingS), 'readings/s', {
      against: { name: 'narrow table', value: narrow },
      note: 'for information: a worker has an hour for each sealing',
    }),
    figure('journal', 'sealing an hour of the fleet', Math.max(...sealings.map(({ ms }) => ms)) / 1000, 's', {
      note: `the slowest of ${sealings.length}; its longest piece ${Math.round(Math.max(...sealings.map((s) => s.longestMs)))} ms`,
    }),
    figure('journal', 'longest pause', Math.max(...runs.map(({ longestMs }) => longestMs)), 'ms', {
      note: `until ${IN_FLIGHT} batches were answered`,
    }),
    figure('journal', 'on disk before it is sealed', bytes / hourRows, 'bytes/reading'),
    figure('journal', 'on disk when it is sealed', (await folderBytes(folder)) / done, 'bytes/reading'),
    figure('journal', `of a core at ${WORKER_ROWS_A_SECOND} readings/s`, share * 100, '%', {
      note: 'ten transactions a second; decoding and sealing not counted',
    }),
  ];
}

/** What the fleet's own pace costs: processor time of small transactions, by the rows they bring. */
async function workerShare(door: LiveDoor, stream: FleetStream): Promise<number> {
  const seconds = 20;
  const perTransaction = WORKER_ROWS_A_SECOND / 10;
  const parts: ReadingBatch[] = [];
  while (parts.length < seconds * 10) parts.push(...split(stream.next(), perTransaction));
  const before = process.cpuUsage();
  for (const part of parts) await door.store(part);
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6 / (parts.reduce((sum, { readings }) => sum + readings, 0) / WORKER_ROWS_A_SECOND);
}

function split(batch: ReadingBatch, readings: number): ReadingBatch[] {
  const parts: ReadingBatch[] = [];
  let from = 0;
  let count = 0;
  for (let at = 0; at < batch.rowsLength; ) {
    at += 3 + 2 * batch.rows[at + 2]!;
    count++;
    if (count < readings && at < batch.rowsLength) continue;
    const rows = batch.rows.slice(from, at);
    parts.push({ ...batch, rows, rowsLength: rows.length, readings: count, lines: count });
    from = at;
    count = 0;
  }
  return parts;
}
