/** Asks Sparkplug nodes to be born again, each not more often than it can answer. */
import { MINUTE_MS } from '../../vocabulary/time.ts';
import type { SparkplugNodeName } from '../../wire/mqtt/message.ts';

/** A birth of a large node on a poor link takes some seconds; one that never answers is asked less and less often. */
const FIRST_PAUSE_MS = MINUTE_MS;
const LONGEST_PAUSE_MS = 30 * MINUTE_MS;
/** An answer that came in that time after the last request has ended what it was for. */
const CALM_MS = 2 * LONGEST_PAUSE_MS;

/** @param elapsedMs a clock that never steps */
export function createBirthRequests(ask: (node: SparkplugNodeName) => boolean, elapsedMs: () => number) {
  const asked = new Map<string, { atMs: number; pauseMs: number }>();
  return (node: SparkplugNodeName): void => {
    const key = `${node.group}/${node.node}`;
    const last = asked.get(key);
    const sinceMs = last === undefined ? Number.POSITIVE_INFINITY : elapsedMs() - last.atMs;
    if (last !== undefined && sinceMs < last.pauseMs) return;
    if (!ask(node)) return;
    const pauseMs =
      last === undefined || sinceMs > CALM_MS ? FIRST_PAUSE_MS : Math.min(2 * last.pauseMs, LONGEST_PAUSE_MS);
    asked.set(key, { atMs: elapsedMs(), pauseMs });
  };
}
