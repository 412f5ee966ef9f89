/** The worker: holds the lock of a data folder, runs its sources, judges its sites, says that it listens. */
import { dirname, join } from 'node:path';
import { createLiveDoor } from './intake/live-door.ts';
import { createDirtyAnalysis } from './runner/analyse-dirty.ts';
import { followIntoStore } from './sources/follow-into-store.ts';
import { type KeptSources, keepSources } from './sources/keep-sources.ts';
import { makeSource, type RunConfig, type SourcePace } from './sources/make-source.ts';
import { createBoardReads } from './store/board-reads.ts';
import { createDerivedStore } from './store/derived-store.ts';
import { type Db, openStore } from './store/open-store.ts';
import { createReadingStore, type ReadingStore } from './store/reading-store.ts';
import { createSealer } from './store/sealer.ts';
import { createSourceStatusStore, type SourceStatusStore } from './store/source-status-store.ts';
import { takeWorkerLock } from './store/worker-lock.ts';
import type { FastClock } from './vocabulary/fast-clock.ts';
import { NeedsOperator } from './vocabulary/refusal.ts';
import { MINUTE_MS, SECOND_MS } from './vocabulary/time.ts';

/** One source of a worker. */
export type WorkerSource = RunConfig;

/** What a worker is started with: plain data, because it crosses a process. */
export interface WorkerTask {
  readonly data: string;
  readonly sources: readonly WorkerSource[];
  /** Of a simulated fleet; null or left out: the world's. */
  readonly clock?: FastClock | null;
}

export interface WorkerHouse {
  say(line: string): void;
  nowMs(): number;
  /** Monotonic time and waiting by the same clock; left out: the process's own. */
  readonly pace?: SourcePace | undefined;
  /** Times the world's speed that its clock may go at; left out: 1. */
  readonly hurry?: number;
  /** Resolves after the time, or at once when the worker is to stop. */
  sleep(ms: number): Promise<void>;
  isStopped(): boolean;
  /** Calls back with the sources that hold from then on. */
  onSources(listener: (sources: readonly WorkerSource[]) => void): void;
}

const HEARTBEAT_MS = MINUTE_MS;
const STATUS_MS = 3 * SECOND_MS;
const REST_MS = 2 * SECOND_MS;
const JUDGE_MS = 5 * SECOND_MS;
/** However fast the clock goes. */
const LEAST_REST_MS = 250;
/** Another process that just ends its work is waited for. */
const LOCK_WAIT_MS = 5 * SECOND_MS;

/** Runs until `isStopped`. @throws NeedsOperator where another worker holds the folder, or it can't be written */
export async function runWorker({ data, sources }: WorkerTask, house: WorkerHouse): Promise<void> {
  const db = openStore(data);
  const lock = takeWorkerLock(data, LOCK_WAIT_MS);
  if (lock === null) {
    db.close();
    throw new NeedsOperator({
      where: data,
      what: 'another Kilter reads the sources of this folder already',
      remedy: 'stop it, or give each its own --data folder',
    });
  }
  const store = createReadingStore(db);
  const statuses = createSourceStatusStore(db);
  const kept = workerSources(store, statuses, house);
  const told = tellStatuses(statuses, kept, house);
  try {
    await kept.set(sources);
    house.onSources((next) => void kept.set(next));
    await judgeUntilStopped(store, db, house);
  } finally {
    // In order: nothing new is taken, what is in hand is stored, and only then the store is closed.
    await kept.stop();
    told.end();
    db.close();
    lock.release();
  }
}

function workerSources(store: ReadingStore, statuses: SourceStatusStore, { nowMs, say, pace }: WorkerHouse) {
  const door = createLiveDoor(store);
  const house = {
    door,
    nowMs,
    say,
    pace,
    memoryFolder: join(dirname(store.db.name), 'sources'),
    followHouse: (folder: Parameters<typeof followIntoStore>[2]) => followIntoStore(store, door, folder),
    hearOffset: ({ name, offsetMs }: { name: string; offsetMs: number }) =>
      statuses.putClock({ name, at: nowMs(), offsetMs: Math.round(offsetMs) }),
  };
  return keepSources<WorkerSource>((config) => makeSource(config, house), { nowMs, say });
}

/** Writes every few seconds how the sources fare, whatever else goes on. */
function tellStatuses(
  statuses: SourceStatusStore,
  kept: Pick<KeptSources, 'statuses'>,
  { nowMs, say, hurry = 1 }: WorkerHouse,
): { end(): void } {
  let said = '';
  const tell = (): void => {
    try {
      statuses.put('worker', nowMs(), kept.statuses());
      said = '';
    } catch (error) {
      const text = error instanceof Error ? error.message : String(error);
      if (text !== said) say(`how the sources fare could not be written: ${text}`);
      said = text;
    }
  };
  const timer = setInterval(tell, Math.max(LEAST_REST_MS, STATUS_MS / hurry));
  return {
    end() {
      clearInterval(timer);
      tell();
    },
  };
}

async function judgeUntilStopped(store: ReadingStore, db: Db, house: WorkerHouse): Promise<void> {
  const { say, nowMs, sleep, isStopped, hurry = 1 } = house;
  const analysis = createDirtyAnalysis(store, createDerivedStore(db), createBoardReads(db), (site, error) =>
    say(`${site}: this site could not be judged: ${error instanceof Error ? error.message : String(error)}`),
  );
  const sealer = createSealer(store);
  let beatMs = Number.NEGATIVE_INFINITY;
  const beat = (): void => {
    if (nowMs() - beatMs < HEARTBEAT_MS) return;
    beatMs = nowMs();
    store.addHeartbeat(beatMs);
  };
  const pause = (): Promise<void> => {
    beat();
    return new Promise((resolve) => setImmediate(resolve));
  };
  while (!isStopped()) {
    beat();
    // Piece by piece: what comes meanwhile is stored in between.
    while (sealer.sealDue(nowMs(), isStopped)) await pause();
    // What is not judged in this time waits for the next turn, so that readings keep coming in.
    const begunMs = performance.now();
    await analysis.run(nowMs(), pause, () => isStopped() || performance.now() - begunMs > JUDGE_MS);
    await sleep(Math.max(LEAST_REST_MS, REST_MS / hurry));
  }
}
