/**
 * A process that lives some sites of the demo fleet: their past goes straight into the store, their present is written
 * as log lines to a folder that the worker reads, as a gateway would. Besides the command line the only file that knows the demo.
 */
import { appendFileSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { planFleet } from '../ingest/demo/fleet.ts';
import { createSink } from '../ingest/demo/log-lines.ts';
import { createRowSink, takeBatch } from '../ingest/demo/row-sink.ts';
import { createSiteRun, simulateDay, sourceKeys } from '../ingest/demo/simulate-site.ts';
import { siteDocuments } from '../ingest/demo/site-documents.ts';
import { createIntake } from '../ingest/intake/intake.ts';
import { checkSites } from '../ingest/site/check-sites.ts';
import { openStore } from '../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../ingest/store/reading-store.ts';
import type { ReadingBatch } from '../ingest/vocabulary/reading.ts';
import { NeedsOperator } from '../ingest/vocabulary/refusal.ts';
import { DAY_MS, dayOf, epochMs, formatDay, parseTime } from '../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../ingest/wire/ndjson.ts';
import type { DemoPlan, FeedMessage, FeedTask } from './process/demo-plan.ts';

/** Gathered readings beyond it are stored: two processes do so at once. */
const PENDING_MAX_BYTES = 24 * 1024 * 1024;
/** How often lines that are due are written. */
const WRITE_EVERY_MS = 3000;

type SiteRun = ReturnType<typeof createSiteRun>;

/** A line of the present day that is not due yet. */
interface DueLine {
  readonly t: number;
  readonly text: string;
}

interface LivingSite {
  readonly site: string;
  readonly run: SiteRun;
  /** Midnight of the newest simulated day. */
  day: number;
  /** In order of time. */
  due: DueLine[];
}

const tell = (message: FeedMessage): void => {
  if (process.connected) process.send?.(message);
};

function periodOf({ from, days, everyS, eventEveryS }: DemoPlan) {
  return {
    from: epochMs(from),
    to: epochMs(from + days * DAY_MS),
    everyMs: everyS * 1000,
    eventEveryMs: eventEveryS * 1000,
  };
}

/** Large days leave large buffers behind; the present needs small ones. */
function shrink(run: SiteRun): void {
  for (const files of run.fileSets) for (const sink of files) Object.assign(sink, createSink());
}

/** Lines of a day: those up to `now` in one piece, the others in order of time. */
function splitDay(bytes: Uint8Array, nowMs: number): { readonly past: Uint8Array; readonly due: DueLine[] } {
  const decoder = new TextDecoder();
  const past: string[] = [];
  const due: DueLine[] = [];
  for (const text of decoder.decode(bytes).split('\n')) {
    if (text === '') continue;
    const t = timeOf(text);
    if (t <= nowMs) past.push(`${text}\n`);
    else due.push({ t, text });
  }
  return { past: new TextEncoder().encode(past.join('')), due: due.sort((a, b) => a.t - b.t) };
}

function timeOf(line: string): number {
  const [, text, number] = /^\{"t":(?:"([^"]+)"|(\d+))/.exec(line) ?? [];
  return text === undefined ? Number(number) : (parseTime(text) ?? Number.NaN);
}

interface Storing {
  take(bytes: Uint8Array): void;
  takeRows(run: SiteRun): void;
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
    takeRows(run) {
      if (run.rows !== null) takeBatchIn(takeBatch(run.rows, sourceKeys(run)));
    },
    flush: () => void intake.flush(),
    get lines() {
      return lines;
    },
  };
}

/** Lives a site from the plan's start to now. Days that are stored already are lived again, unseen: the same plan gives the same days. */
async function catchUp(
  store: ReadingStore,
  run: SiteRun,
  site: string,
  from: number,
  pause: () => Promise<boolean>,
): Promise<LivingSite | null> {
  const storing = createStoring(store);
  const newest = Math.max(from, ...store.sources(site).map(({ source }) => store.newestReading(source) ?? from));
  const today = dayOf(Date.now());
  const rows = createRowSink();
  let due: DueLine[] = [];
  for (let day = from; day <= today; day += DAY_MS) {
    // The past needs no text: only settings, alarms and what came late are lines.
    run.rows = day === today ? null : rows;
    const [file] = simulateDay(run, day);
    const bytes = file?.bytes ?? new Uint8Array(0);
    if (day === today) {
      const split = splitDay(bytes, Date.now());
      storing.take(split.past);
      due = split.due;
    } else if (day >= dayOf(newest)) {
      storing.takeRows(run);
      storing.take(bytes.slice());
    } else {
      rows.length = 0;
      rows.readings = 0;
    }
    if (await pause()) return null;
  }
  storing.flush();
  shrink(run);
  tell({ site, lines: storing.lines });
  return { site, run, day: today, due };
}

/** Writes what is due to the site's log of the day, and lives the next day when this one is over. */
function writeDue(living: LivingSite, logs: string, nowMs: number): void {
  while (nowMs >= living.day + DAY_MS) {
    living.day += DAY_MS;
    const [file] = simulateDay(living.run, living.day);
    living.due.push(...splitDay(file?.bytes ?? new Uint8Array(0), Number.NEGATIVE_INFINITY).due);
    shrink(living.run);
  }
  const count = living.due.findIndex(({ t }) => t > nowMs);
  const lines = living.due.splice(0, count < 0 ? living.due.length : count);
  if (lines.length === 0) return;
  const folder = join(logs, living.site);
  mkdirSync(folder, { recursive: true });
  const byDay = new Map<string, string>();
  for (const { t, text } of lines) byDay.set(formatDay(t), `${byDay.get(formatDay(t)) ?? ''}${text}\n`);
  for (const [day, text] of byDay) appendFileSync(join(folder, `${day}.ndjson`), text);
}

async function feed({ plan, places, data, logs }: FeedTask, isStopped: () => boolean): Promise<void> {
  const period = periodOf(plan);
  const plans = planFleet({ seed: plan.seed, period, sites: plan.sites });
  const own = places.map((place) => plans[place]!);
  const pause = (): Promise<boolean> => new Promise((resolve) => setImmediate(() => resolve(isStopped())));
  const living: LivingSite[] = [];
  const db = openStore(data);
  try {
    const store = createReadingStore(db);
    const text = own.flatMap((site) => siteDocuments(site, period)).join('---\n');
    const { histories } = checkSites([{ file: 'the demo fleet', text }]);
    for (const history of histories.values()) store.addRecord(history, Date.now());
    for (const site of own) {
      const run = createSiteRun(site, period, plan.seed, 'ndjson');
      const lived = await catchUp(store, run, site.id, plan.from, pause);
      if (lived === null) return;
      living.push(lived);
    }
  } finally {
    db.close();
  }
  tell({ isReady: true });
  while (!isStopped()) {
    for (const site of living) writeDue(site, logs, Date.now());
    await sleep(WRITE_EVERY_MS);
  }
}

function sleep(ms: number): Promise<void> {
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
