/** The parts of a house while they run: the board with its push source, the worker, the demo fleet; stopped together. */
import type { Io } from '../../ingest/commands/command.ts';
import { readSiteFiles } from '../../ingest/commands/read-sites.ts';
import { sayMistake } from '../../ingest/site/site-mistake.ts';
import type { PushConfig } from '../../ingest/sources/push/push-config.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { type FastClock, shownAt } from '../../ingest/vocabulary/fast-clock.ts';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import { epochMs, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import { builtPages } from './built-pages.ts';
import type { demoPlan } from './demo-plan.ts';
import { type KeptWorker, keepWorker } from './keep-worker.ts';
import type { Config } from './read-config.ts';
import { type RunningDemo, runDemo } from './run-demo.ts';
import { type Serving, serve } from './serve.ts';
import { createPushHost, type PushHost } from './serve-push.ts';
import { isRunBy, type SourceConfig } from './source-kinds.ts';
import { type ConfigWatch, watchConfig } from './watch-config.ts';

export type Part = 'start' | 'serve' | 'ingest';

export interface Asked {
  readonly config: Config;
  /** null: no file holds it. */
  readonly file: { readonly path: string; read(): Config } | null;
  /** null: no demo is asked for. */
  readonly planned: PlannedDemo | null;
}

export interface PlannedDemo extends ReturnType<typeof demoPlan> {
  readonly clock: FastClock;
}

/** Children are ended where they take longer; with the server's own time it stays under five seconds. */
const STOP_GRACE_MS = 4000;

/** Site records of the configuration into the store. @throws NeedsOperator with every mistake in them */
function storeRecords({ data, sites }: Config, io: Io): void {
  if (sites.length === 0) return;
  const checked = readSiteFiles(sites);
  if (checked.refusals.length > 0) {
    for (const mistake of checked.refusals) io.err(sayMistake(mistake));
    throw new NeedsOperator({
      where: sites.join(', '),
      what: 'mistakes keep these records from being used',
      remedy: 'mend them; none of them was taken',
    });
  }
  const db = openStore(data);
  try {
    const store = createReadingStore(db);
    for (const history of checked.histories.values()) store.addRecord(history, io.now());
  } finally {
    db.close();
  }
}

/** Runs until somebody asks to stop, or the worker can't go on. @returns the exit code */
export async function runParts(part: Part, asked: Asked, outer: Io, version: string): Promise<number> {
  const { config, file, planned } = asked;
  // All processes of a demo have its clock.
  const io: Io =
    planned === null ? outer : { ...outer, now: () => epochMs(Math.round(shownAt(planned.clock, outer.now()))) };
  const stopping = new Promise<void>((resolve) => io.onStop(resolve));
  storeRecords(config, io);
  const open: Open = { serving: null, push: null, worker: null, fleet: null, watch: null };
  try {
    if (part !== 'ingest') await openBoard(open, asked, io, version);
    if (part !== 'serve') open.worker = startWorker(asked, io);
    if (planned !== null) open.fleet = startFleet(open, planned, config.data, io);
    if (file !== null) {
      open.watch = watchConfig(file.path, config, {
        read: file.read,
        say: io.err,
        async changed(next) {
          storeRecords(next, io);
          open.worker?.setSources(next.sources.filter(isRunBy.worker));
          await open.push?.set(pushOf(next.sources));
        },
      });
    }
    io.err(`readings are kept in ${config.data}; Ctrl-C stops ${part === 'start' ? 'everything' : 'it'}`);
    const end = part === 'ingest' && open.worker !== null ? Promise.race([stopping, open.worker.ended]) : stopping;
    return (await end) === 'refused' ? 1 : 0;
  } finally {
    open.watch?.stop();
    await Promise.all([
      open.serving?.stop().then(() => open.push?.stop()),
      open.worker?.stop(STOP_GRACE_MS),
      open.fleet?.stop(STOP_GRACE_MS),
    ]);
  }
}

interface Open {
  serving: Serving | null;
  push: PushHost | null;
  worker: KeptWorker | null;
  fleet: RunningDemo | null;
  watch: ConfigWatch | null;
}

async function openBoard(open: Open, { config, file, planned }: Asked, io: Io, version: string): Promise<void> {
  const pages = await builtPages(io.err);
  const nowMs = (): number => io.now();
  const push = file === null ? null : createPushHost(config.data, { nowMs, say: io.err });
  open.push = push;
  await push?.set(pushOf(config.sources));
  const { data, listen } = config;
  open.serving = await serve({
    data,
    listen,
    pages,
    version,
    push: () => push?.current() ?? null,
    demo: planned === null ? null : () => open.fleet?.hold ?? null,
    nowMs,
    say: io.err,
  });
  io.out(`Kilter is at ${open.serving.address}`);
  await io.drained();
}

const pushOf = (sources: readonly SourceConfig[]): PushConfig | null => sources.find(isRunBy.server) ?? null;

function startWorker({ config, planned }: Asked, io: Io): KeptWorker {
  // The demo's sources come with its sites.
  const sources = planned === null ? config.sources.filter(isRunBy.worker) : [];
  return keepWorker({ data: config.data, sources, clock: planned?.clock ?? null }, io.err);
}

function startFleet(open: Open, { plan, isNew, clock }: PlannedDemo, data: string, io: Io): RunningDemo {
  io.err(
    isNew
      ? `making the demo fleet: ${plan.sites} invented sites; they appear one after the other`
      : `the demo fleet goes on: ${plan.sites} invented sites catch up with what they missed`,
  );
  const startedMs = performance.now();
  const fleet = runDemo({ plan, data, clock, say: io.err, setSources: (sources) => open.worker?.setSources(sources) });
  void fleet.ready.then((isReady) => {
    const seconds = Math.round((performance.now() - startedMs) / SECOND_MS);
    if (isReady) io.err(`the demo fleet is stored up to now (${seconds} s), and lives on${sayPace(clock, io.now())}`);
  });
  return fleet;
}

/** What a faster clock means, for whoever wonders at the dates. */
function sayPace({ speed }: FastClock, now: number): string {
  if (speed === 1) return '';
  return ` ${speed} times faster than the world, from ${new Date(now).toISOString()} until it has caught up with it`;
}
