/** One browser's stream of changes: server-sent events with ids, a heartbeat, and resumption. */
import type { Context } from 'hono';
import { streamSSE } from 'hono/streaming';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { LiveChange } from '../contract/live.ts';
import { type Changes, versionId } from './follow-changes.ts';

/** Shorter than the minute after which proxies give up on a silent connection. */
const HEARTBEAT_MS = 15 * SECOND_MS;
/** How long a browser waits before it comes back. */
const RETRY_MS = 3 * SECOND_MS;

export function liveStream(c: Context, changes: Changes, nowMs: () => number, heartbeatMs = HEARTBEAT_MS): Response {
  const lastId = c.req.header('Last-Event-ID');
  c.header('X-Accel-Buffering', 'no');
  return streamSSE(c, async (stream) => {
    const say = (change: LiveChange): Promise<void> =>
      stream.writeSSE({ event: 'change', id: versionId(change), data: JSON.stringify(change) });
    const current = changes.current();
    // An id to come back with, before anything has changed.
    await stream.writeSSE({ event: 'hello', id: versionId(current), data: '', retry: RETRY_MS });
    if (lastId !== undefined && lastId !== versionId(current)) await say({ ...current, at: nowMs(), sites: null });
    await new Promise<void>((resolve) => {
      const unlisten = changes.listen((change) => void say(change));
      const heartbeat = setInterval(() => void stream.write(': still here\n\n'), heartbeatMs);
      const end = (): void => {
        unlisten();
        unclose();
        clearInterval(heartbeat);
        resolve();
      };
      const unclose = changes.onClose(end);
      stream.onAbort(end);
    });
  });
}
