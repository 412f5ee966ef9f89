/**
 * A process that lives the past of some sites of the demo fleet, straight into the store, up to now; then it ends, and
 * `demo-sites.ts` lives on from where it left them.
 */
import { planFleet } from '../ingest/demo/fleet.ts';
import { type FleetSeed, keepHeldSite, openHeldSite } from '../ingest/demo/live/site-file.ts';
import { createSink } from '../ingest/demo/log-lines.ts';
import { createRowSink, type RowSink, takeBatch } from '../ingest/demo/row-sink.ts';
import { beginSiteDay, runTick, type SiteRun, simulateDay, sourceKeys } from '../ingest/demo/simulate-site.ts';
import { siteDocuments } from '../ingest/demo/site-documents.ts';
import { hasOutage } from '../ingest/demo/site-state.ts';
import { createIntake } from '../ingest/intake/intake.ts';
import { checkSites } from '../ingest/site/check-sites.ts';
import { openStore } from '../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../ingest/store/reading-store.ts';
import { shownAt } from '../ingest/vocabulary/fast-clock.ts';
import type { ReadingBatch } from '../ingest/vocabulary/reading.ts';
import { NeedsOperator } from '../ingest/vocabulary/refusal.ts';
import { DAY_MS, dayOf } from '../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../ingest/wire/ndjson.ts';
import { demoStates, type FeedMessage, type FeedTask, periodOf } from './process/demo-plan.ts';

/** Gathered readings beyond it are stored: two processes do so at once. */
const PENDING_MAX_BYTES = 24 * 1024 * 1024;
/** Ticks of what is left of a day that was lived in part. */
const FINE_MS = 10_000;

const tell = (message: FeedMessage): void => {
  if (process.connected) process.send?.(message);
};

interface Storing {
  take(bytes: Uint8Array): void;
  takeRows(run: SiteRun, rows: RowSink): void;
  flush(): void;
  readonly lines: number;
}

function createStoring(store: ReadingStore): Storing {
  const intake = createIntake(store);
  const decoder = createNdjsonDecoder();
  let lines = 0;
  const takeBatchIn = (batch: ReadingBatch): void => {
    lines += batch.lines;
    intake.take(batch);
    if (intake.pendingBytes > PENDING_MAX_BYTES) intake.flush();
  };
  return {
    take(bytes) {
      takeBatchIn(decoder.decode(bytes, 1));
    },
    takeRows(run, rows) {
      takeBatchIn(takeBatch(rows, sourceKeys(run)));
    },
    flush: () => void intake.flush(),
    get lines() {
      return lines;
    },
  };
}

/** Readings that an earlier process has sent already, up to the newest of their source, are not stored again with other noise. */
function dropKnown(rows: RowSink, newest: readonly number[]): void {
  let kept = 0;
  let readings = 0;
  for (let at = 0; at < rows.length; ) {
    const next = at + 3 + 2 * rows.rows[at + 2]!;
    if (rows.rows[at + 1]! > (newest[rows.rows[at]!] ?? Number.NEGATIVE_INFINITY)) {
      rows.rows.copyWithin(kept, at, next);
      kept += next - at;
      readings += 1;
    }
    at = next;
  }
  rows.length = kept;
  rows.readings = readings;
}

/**
 * Lives a site up to now: from where its file stands, else from the beginning of the plan.
 *
 * @returns false where it was stopped on the way
 */
async function catchUp(
  store: ReadingStore,
  seed: FleetSeed,
  place: number,
  { nowMs, pause }: { nowMs(): number; pause(): Promise<boolean> },
): Promise<boolean> {
  const held = openHeldSite(seed, place);
  const { run } = held;
  const storing = createStoring(store);
  const rows = createRowSink();
  run.rows = rows;
  const newest = newestOf(store, run);
  const { period } = seed;
  let at = held.nextMs ?? period.from;
  for (;;) {
    const day = dayOf(at);
    const isWhole = at === day && day + DAY_MS <= nowMs();
    const dtMs = at > day ? FINE_MS : hasOutage(run.state, day) ? period.eventEveryMs : period.everyMs;
    const lived = isWhole ? wholeDay(run, day) : partOfDay(run, at, Math.min(day + DAY_MS, nowMs()), dtMs);
    at = lived.nextMs;
    // The days of the past are the same whenever they are lived: what is stored of them already stays one reading.
    if (held.nextMs !== null) dropKnown(rows, newest);
    storing.takeRows(run, rows);
    storing.take(lived.text);
    if (await pause()) return false;
    if (at + Math.max(dtMs, FINE_MS) > nowMs()) break;
  }
  storing.flush();
  keepHeldSite(seed, held, at);
  tell({ site: held.site, place, lines: storing.lines });
  return true;
}

/** Of each source in the order of rows. */
function newestOf(store: ReadingStore, run: SiteRun): number[] {
  const stored = store.sources(run.state.plan.id);
  return sourceKeys(run).map(({ kind, id }) => {
    const own = stored.find((one) => one.kind === kind && one.id === id);
    return (own === undefined ? null : store.newestReading(own.source)) ?? Number.NEGATIVE_INFINITY;
  });
}

interface Lived {
  /** When the next tick begins. */
  readonly nextMs: number;
  /** What is no reading in time: settings, alarms, what came late. */
  readonly text: Uint8Array;
}

function wholeDay(run: SiteRun, day: number): Lived {
  const [file] = simulateDay(run, day);
  return { nextMs: day + DAY_MS, text: file?.bytes.slice() ?? new Uint8Array(0) };
}

function partOfDay(run: SiteRun, from: number, to: number, dtMs: number): Lived {
  const day = dayOf(from);
  const sink = createSink();
  if (from === day) beginSiteDay(run, day);
  let at = from;
  for (;;) {
    const stepMs = Math.min(dtMs, day + DAY_MS - at);
    if (stepMs === 0 || at + stepMs > to) break;
    runTick(run, day, at, stepMs, [sink]);
    at += stepMs;
  }
  return { nextMs: at, text: sink.bytes.subarray(0, sink.length) };
}

async function feed({ plan, places, data, clock }: FeedTask, isStopped: () => boolean): Promise<void> {
  const period = periodOf(plan);
  const seed: FleetSeed = { seed: plan.seed, period, sites: plan.sites, folder: demoStates(data) };
  const plans = planFleet(seed);
  const pause = (): Promise<boolean> => new Promise((resolve) => setImmediate(() => resolve(isStopped())));
  const nowMs = (): number => shownAt(clock, Date.now());
  const db = openStore(data);
  try {
    const store = createReadingStore(db);
    const text = places.flatMap((place) => siteDocuments(plans[place]!, period)).join('---\n');
    const { histories } = checkSites([{ file: 'the demo fleet', text }]);
    for (const history of histories.values()) store.addRecord(history, nowMs());
    for (const place of places) if (!(await catchUp(store, seed, place, { nowMs, pause }))) return;
  } finally {
    db.close();
  }
  tell({ isReady: true });
}

const stop = new AbortController();
for (const signal of ['SIGTERM', 'SIGINT'] as const) process.on(signal, () => stop.abort());
process.on('disconnect', () => stop.abort());

process.once('message', async (task: FeedTask) => {
  try {
    await feed(task, () => stop.signal.aborted);
  } catch (error) {
    tell({
      refusal:
        error instanceof NeedsOperator
          ? error.refusal
          : { where: 'the demo fleet', what: String(error), remedy: 'give another folder: --data DIR' },
    });
    process.exitCode = 1;
  }
  if (process.connected) process.disconnect();
});
