/** The worker as a process of its own: its task comes as the first message, its words go to the process that started it. */

import { runWorker, type WorkerHouse, type WorkerSource, type WorkerTask } from './run-worker.ts';
import { shownAt, speedAt } from './vocabulary/fast-clock.ts';
import { NeedsOperator } from './vocabulary/refusal.ts';

/** What the worker tells the process that started it. */
export type WorkerMessage = { readonly say: string } | { readonly refusal: NeedsOperator['refusal'] };

/** What the process that started the worker tells it later: the sources that hold from then on. */
export interface WorkerChange {
  readonly sources: readonly WorkerSource[];
}

const tell = (message: WorkerMessage): void => {
  if (process.connected) process.send?.(message);
};

const stop = new AbortController();
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => stop.abort());
// Nobody is left to show what is found, or to stop us.
process.on('disconnect', () => stop.abort());

const sleep = (ms: number): Promise<void> => waitFor(ms, stop.signal);

/** The world's clock, or the faster one of a simulated fleet with a pace to match. */
function clockOf({ clock = null }: WorkerTask): Pick<WorkerHouse, 'nowMs' | 'pace' | 'hurry'> {
  if (clock === null || clock.speed === 1) return { nowMs: Date.now };
  const began = Date.now() - performance.now();
  const nowMs = (): number => shownAt(clock, Date.now());
  return {
    nowMs,
    hurry: clock.speed,
    pace: {
      elapsedMs: () => shownAt(clock, began + performance.now()),
      wait: (ms, signal) => waitFor(ms / speedAt(clock, Date.now()), signal),
    },
  };
}

function waitFor(ms: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const end = (): void => {
      clearTimeout(timer);
      signal.removeEventListener('abort', end);
      resolve();
    };
    const timer = setTimeout(end, signal.aborted ? 0 : ms);
    signal.addEventListener('abort', end);
  });
}

let onSources: ((sources: readonly WorkerSource[]) => void) | null = null;
let waiting: readonly WorkerSource[] | null = null;

process.once('message', async (task: WorkerTask) => {
  process.on('message', ({ sources }: WorkerChange) => {
    // One that comes before the worker is ready holds from when it is.
    if (onSources === null) waiting = sources;
    else onSources(sources);
  });
  try {
    await runWorker(task, {
      say: (line) => tell({ say: line }),
      ...clockOf(task),
      sleep,
      isStopped: () => stop.signal.aborted,
      onSources(listener) {
        onSources = listener;
        if (waiting !== null) listener(waiting);
      },
    });
    process.exitCode = 0;
  } catch (error) {
    tell(error instanceof NeedsOperator ? { refusal: error.refusal } : { say: `the worker stopped: ${String(error)}` });
    process.exitCode = 1;
  }
  if (process.connected) process.disconnect();
});
