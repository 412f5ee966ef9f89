/** The worker as a process of its own: its task comes as the first message, its words go to the process that started it. */

import { runWorker, type WorkerTask } from './run-worker.ts';
import { NeedsOperator } from './vocabulary/refusal.ts';

/** What the worker tells the process that started it. */
export type WorkerMessage = { readonly say: string } | { readonly refusal: NeedsOperator['refusal'] };

const tell = (message: WorkerMessage): void => {
  if (process.connected) process.send?.(message);
};

const stop = new AbortController();
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => stop.abort());
// Nobody is left to show what is found, or to stop us.
process.on('disconnect', () => stop.abort());

function sleep(ms: number): Promise<void> {
  if (stop.signal.aborted) return Promise.resolve();
  return new Promise((resolve) => {
    const end = (): void => {
      clearTimeout(timer);
      stop.signal.removeEventListener('abort', end);
      resolve();
    };
    const timer = setTimeout(end, ms);
    stop.signal.addEventListener('abort', end);
  });
}

process.once('message', async (task: WorkerTask) => {
  try {
    await runWorker(task, {
      say: (line) => tell({ say: line }),
      nowMs: Date.now,
      sleep,
      isStopped: () => stop.signal.aborted,
    });
    process.exitCode = 0;
  } catch (error) {
    tell(error instanceof NeedsOperator ? { refusal: error.refusal } : { say: `the worker stopped: ${String(error)}` });
    process.exitCode = 1;
  }
  if (process.connected) process.disconnect();
});
