/** Sends what the queue holds, newest first, for as long as the courier runs: the link may come and go. */
import { MINUTE_MS, SECOND_MS } from '../../vocabulary/time.ts';
import type { DiskQueue, PickedRecords } from './disk-queue.ts';
import type { Forwarder, SendOutcome } from './forwarder.ts';

export interface ForwardCounts {
  /** Lines that the server has. */
  readonly sent: number;
  /** Lines that it refused. */
  readonly refused: number;
  /** What keeps lines from being sent; null where nothing does. */
  readonly trouble: string | null;
}

export interface ForwardLoop {
  counts(): ForwardCounts;
  /** Gives up what is on its way, which is sent again by the next process. */
  stop(): Promise<void>;
}

export interface ForwardHouse {
  say(line: string): void;
  /** Between 0 and 1: so that couriers of one server do not come back all at once. */
  random(): number;
  elapsedMs(): number;
}

const CHUNK = { first: 200, least: 1, most: 2000 } as const;
/** A chunk should take about a second: a reading that was just taken waits for no longer than the one before it. */
const QUICK_MS = SECOND_MS / 2;
const SLOW_MS = 2 * SECOND_MS;
const BACK_OFF_MS = { first: SECOND_MS, most: MINUTE_MS } as const;
/** Readings of one poll come together; they are sent together. */
const GATHER_MS = 150;
/** A trouble that goes on is said again after that long. */
const SAY_AGAIN_MS = 10 * MINUTE_MS;

export function startForwarding(queue: DiskQueue, forwarder: Forwarder, house: ForwardHouse): ForwardLoop {
  const { say, random, elapsedMs } = house;
  const stopped = new AbortController();
  const { signal } = stopped;
  let chunk: number = CHUNK.first;
  let backOffMs: number = BACK_OFF_MS.first;
  let counts: ForwardCounts = { sent: 0, refused: 0, trouble: null };
  let saidAtMs = Number.NEGATIVE_INFINITY;

  const sayTrouble = (trouble: string): void => {
    const isNew = counts.trouble === null;
    counts = { ...counts, trouble };
    if (!isNew && elapsedMs() - saidAtMs < SAY_AGAIN_MS) return;
    saidAtMs = elapsedMs();
    say(
      `${forwarder.name}: ${trouble}; readings are kept (${queue.counts().waiting} records wait), and it is tried again`,
    );
  };
  const taken = (picked: PickedRecords, outcome: Extract<SendOutcome, { kind: 'taken' }>, tookMs: number): void => {
    queue.sent(picked);
    if (counts.trouble !== null) say(`${forwarder.name}: readings are sent again`);
    counts = {
      sent: counts.sent + picked.lines.length - outcome.refusedCount,
      refused: counts.refused + outcome.refusedCount,
      trouble: null,
    };
    const [first] = outcome.refused;
    if (first !== undefined)
      say(
        `${forwarder.name} refused ${outcome.refusedCount} of ${picked.lines.length} lines; the first: ${first.what}; ${first.remedy}`,
      );
    backOffMs = BACK_OFF_MS.first;
    if (tookMs < QUICK_MS) chunk = Math.min(CHUNK.most, chunk * 2);
    else if (tookMs > SLOW_MS) chunk = Math.max(CHUNK.least, Math.floor(chunk / 2));
  };
  const later = async (picked: PickedRecords, trouble: string, atLeastMs: number): Promise<void> => {
    queue.release(picked);
    if (signal.aborted) return;
    sayTrouble(trouble);
    chunk = Math.max(CHUNK.least, Math.min(CHUNK.first, Math.ceil(chunk / 2)));
    await rest(Math.max(atLeastMs, backOffMs * (0.5 + random())), signal);
    backOffMs = Math.min(BACK_OFF_MS.most, backOffMs * 2);
  };
  const step = async (): Promise<void> => {
    const picked = queue.pick(chunk);
    if (picked === null) return appended(queue, signal);
    const startedMs = elapsedMs();
    const outcome = await forwarder.send(picked.lines, signal);
    if (outcome.kind === 'taken') taken(picked, outcome, elapsedMs() - startedMs);
    else if (outcome.kind === 'later') await later(picked, outcome.trouble, outcome.atLeastMs);
    else if (chunk > CHUNK.least) {
      queue.release(picked);
      chunk = Math.max(CHUNK.least, Math.floor(chunk / 4));
    } else await later(picked, outcome.trouble, BACK_OFF_MS.most);
  };
  forwarder.start();
  const running = (async () => {
    while (!signal.aborted) {
      try {
        await step();
      } catch (error) {
        // Of the queue's own disk: what is there is still there.
        sayTrouble(error instanceof Error ? error.message : String(error));
        await rest(BACK_OFF_MS.most / 4, signal);
      }
    }
  })();
  return {
    counts: () => counts,
    async stop() {
      stopped.abort();
      await running;
      await forwarder.stop();
    },
  };
}

function rest(ms: number, signal: AbortSignal): Promise<void> {
  if (signal.aborted) return Promise.resolve();
  return new Promise((resolve) => {
    const end = (): void => {
      clearTimeout(timer);
      signal.removeEventListener('abort', end);
      resolve();
    };
    const timer = setTimeout(end, ms);
    signal.addEventListener('abort', end);
  });
}

async function appended(queue: DiskQueue, signal: AbortSignal): Promise<void> {
  await new Promise<void>((resolve) => {
    const end = (): void => {
      off();
      signal.removeEventListener('abort', end);
      resolve();
    };
    const off = queue.onAppend(end);
    signal.addEventListener('abort', end);
    // It may have come between the look and now.
    if (signal.aborted || queue.counts().waiting > 0) end();
  });
  await rest(GATHER_MS, signal);
}
