/** Keeps the worker running as a process of its own: whatever happens in it, the pages stay. */
import type { WorkerSource, WorkerTask } from '../../ingest/run-worker.ts';
import { sayRefusal } from '../../ingest/vocabulary/refusal.ts';
import { MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { WorkerChange, WorkerMessage } from '../../ingest/worker.ts';
import { type Child, startChild } from './child.ts';

const WORKER = new URL('../../ingest/worker.ts', import.meta.url);
const FIRST_REST_MS = 2 * SECOND_MS;
const LONGEST_REST_MS = MINUTE_MS;
/** One that ran for longer did not fail at its start. */
const RAN_WELL_MS = 5 * MINUTE_MS;

export interface KeptWorker {
  /** Resolves when it ended for good: stopped, or refused. */
  readonly ended: Promise<'stopped' | 'refused'>;
  /** From now on these are its sources, also after it was started again. */
  setSources(sources: readonly WorkerSource[]): void;
  stop(graceMs: number): Promise<void>;
}

/** Starts it again after a rest where it ended by itself; not where somebody must act first. */
export function keepWorker(first: WorkerTask, say: (line: string) => void): KeptWorker {
  let task = first;
  let child: Child<WorkerMessage> | null = null;
  let isStopping = false;
  let wake: () => void = () => undefined;
  const run = async (): Promise<'stopped' | 'refused'> => {
    let restMs = FIRST_REST_MS;
    while (!isStopping) {
      const startedMs = performance.now();
      let isRefused = false;
      child = startChild<WorkerMessage>(WORKER, task);
      child.onMessage((message) => {
        if ('say' in message) say(message.say);
        else {
          isRefused = true;
          say(`${sayRefusal(message.refusal)}; what is stored is shown all the same`);
        }
      });
      const code = await child.ended;
      if (isStopping) break;
      if (isRefused) return 'refused';
      if (performance.now() - startedMs > RAN_WELL_MS) restMs = FIRST_REST_MS;
      say(
        `the worker ended (${code ?? 'by a signal'}) and is started again in ${restMs / SECOND_MS} s; what is stored is shown all the same`,
      );
      await new Promise<void>((resolve) => {
        const timer = setTimeout(resolve, restMs);
        wake = () => {
          clearTimeout(timer);
          resolve();
        };
      });
      restMs = Math.min(LONGEST_REST_MS, restMs * 2);
    }
    return 'stopped';
  };
  const ended = run();
  return {
    ended,
    setSources(sources) {
      task = { ...task, sources };
      child?.send({ sources } satisfies WorkerChange);
    },
    async stop(graceMs) {
      isStopping = true;
      wake();
      await child?.stop(graceMs);
      await ended;
    },
  };
}
