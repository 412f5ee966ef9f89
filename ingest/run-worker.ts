/** The worker: holds the lock of a data folder, reads its sources, judges its sites, says that it listens. */
import { createDirtyAnalysis } from './runner/analyse-dirty.ts';
import { type FolderFollower, followFolder } from './sources/follow-folder.ts';
import { createBoardReads } from './store/board-reads.ts';
import { createDerivedStore } from './store/derived-store.ts';
import { openStore } from './store/open-store.ts';
import { createReadingStore } from './store/reading-store.ts';
import { takeWorkerLock } from './store/worker-lock.ts';
import { NeedsOperator } from './vocabulary/refusal.ts';
import { MINUTE_MS, SECOND_MS } from './vocabulary/time.ts';

/** One source of a worker: for now folders. */
export interface WorkerSource {
  readonly kind: 'folder';
  readonly path: string;
  readonly columns: { readonly text: string; readonly file: string } | null;
}

/** What a worker is started with: plain data, because it crosses a process. */
export interface WorkerTask {
  readonly data: string;
  readonly sources: readonly WorkerSource[];
}

export interface WorkerHouse {
  say(line: string): void;
  nowMs(): number;
  /** Resolves after the time, or at once when the worker is to stop. */
  sleep(ms: number): Promise<void>;
  isStopped(): boolean;
}

const HEARTBEAT_MS = MINUTE_MS;
const LOOK_MS = 2 * SECOND_MS;
const JUDGE_MS = 5 * SECOND_MS;
/** Another process that just ends its work is waited for. */
const LOCK_WAIT_MS = 5 * SECOND_MS;

/** Runs until `isStopped`. @throws NeedsOperator where another worker holds the folder, or it can't be written */
export async function runWorker({ data, sources }: WorkerTask, house: WorkerHouse): Promise<void> {
  const { say, nowMs, sleep, isStopped } = house;
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
  try {
    const store = createReadingStore(db);
    const followers = sources.map((source): FolderFollower => followFolder(store, source, { refused: say }));
    const analysis = createDirtyAnalysis(store, createDerivedStore(db), createBoardReads(db), (site, error) =>
      say(`${site}: this site could not be judged: ${error instanceof Error ? error.message : String(error)}`),
    );
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
      for (const follower of followers) await follower.look(isStopped);
      // What is not judged in this time waits for the next turn, so that readings keep coming in.
      const startedMs = nowMs();
      await analysis.run(startedMs, pause, () => isStopped() || nowMs() - startedMs > JUDGE_MS);
      await sleep(LOOK_MS);
    }
  } finally {
    db.close();
    lock.release();
  }
}
