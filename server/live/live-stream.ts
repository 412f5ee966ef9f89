/** One browser's stream of changes: server-sent events with ids, a heartbeat, and resumption. */
import type { Context } from 'hono';
import { streamSSE } from 'hono/streaming';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { LiveChange, LiveWorker } from '../contract/live.ts';
import { type Changes, versionId } from './follow-changes.ts';

/** Shorter than the minute after which proxies give up on a silent connection. */
const HEARTBEAT_MS = 15 * SECOND_MS;
/** How long a browser waits before it comes back. */
const RETRY_MS = 3 * SECOND_MS;

export interface LiveClock {
  nowMs(): number;
  /** When the worker last wrote that it listens; null: never. */
  workerAt(): number | null;
  readonly heartbeatMs?: number;
}

export function liveStream(c: Context, changes: Changes, clock: LiveClock): Response {
  const { nowMs, workerAt, heartbeatMs = HEARTBEAT_MS } = clock;
  const lastId = c.req.header('Last-Event-ID');
  c.header('X-Accel-Buffering', 'no');
  return streamSSE(c, async (stream) => {
    const say = (change: LiveChange): Promise<void> =>
      stream.writeSSE({ event: 'change', id: versionId(change), data: JSON.stringify(change) });
    let told: number | null | undefined;
    /** The worker's own heartbeat where it is another one, else a comment that keeps the connection open. */
    const beat = async (): Promise<void> => {
      const at = workerAt();
      if (at === told) return void (await stream.write(': still here\n\n'));
      told = at;
      const worker: LiveWorker = { heartbeatAt: at, now: nowMs() };
      await stream.writeSSE({ event: 'worker', data: JSON.stringify(worker) });
    };
    await new Promise<void>((resolve) => {
      // Listening begins before anything is written: what changes while the first words are on their way is not lost.
      const unlisten = changes.listen((change) => void say(change));
      const heartbeat = setInterval(() => void beat(), heartbeatMs);
      const end = (): void => {
        unlisten();
        unclose();
        clearInterval(heartbeat);
        resolve();
      };
      const unclose = changes.onClose(end);
      stream.onAbort(end);
      const current = changes.current();
      void (async () => {
        // An id to come back with, before anything has changed.
        await stream.writeSSE({ event: 'hello', id: versionId(current), data: '', retry: RETRY_MS });
        if (lastId !== undefined && lastId !== versionId(current)) await say({ ...current, at: nowMs(), sites: null });
        await beat();
        // Who left while this was said is told so by nobody.
        if (stream.aborted) end();
      })();
    });
  });
}
