/** The demo fleet of a data folder: planned once, so that the same days come again at every start. */
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { openStoreToRead, storePath } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import type { FastClock } from '../../ingest/vocabulary/fast-clock.ts';
import { NeedsOperator, type Refusal } from '../../ingest/vocabulary/refusal.ts';
import { DAY_MS, dayOf, epochMs } from '../../ingest/vocabulary/time.ts';

const FILE = 'demo.json';

const planSchema = z.object({
  seed: z.int(),
  /** Midnight UTC of the first day, epoch ms. */
  from: z.int(),
  /** Of the whole story; the part beyond today is lived as it comes. */
  days: z.int(),
  /** s, on ordinary days. */
  everyS: z.int(),
  /** s, on days with a grid loss. */
  eventEveryS: z.int(),
  sites: z.int(),
});
export type DemoPlan = z.infer<typeof planSchema>;

/** The plan as the simulation takes it. */
export function periodOf({ from, days, everyS, eventEveryS }: DemoPlan) {
  return {
    from: epochMs(from),
    to: epochMs(from + days * DAY_MS),
    everyMs: everyS * 1000,
    eventEveryMs: eventEveryS * 1000,
  };
}

/**
 * The clock of a demo. At the world's speed it is the world's; a faster one begins where the readings end, or so much
 * before now, and never shows the future.
 *
 * @param newestMs of what is stored; null: nothing
 */
export function demoClock(speed: number, newestMs: number | null, nowMs: number): FastClock {
  const shownMs = speed === 1 ? nowMs : Math.min(nowMs, newestMs ?? nowMs - FAST_FROM_MS);
  return { realMs: nowMs, shownMs, speed };
}

/** What one feed process does. */
export interface FeedTask {
  readonly plan: DemoPlan;
  /** Which sites of the fleet it lives. */
  readonly places: readonly number[];
  readonly data: string;
  readonly clock: FastClock;
}

/** What the process does that lives their present. */
export interface SitesTask {
  readonly plan: DemoPlan;
  readonly data: string;
  readonly clock: FastClock;
}

/** Folders of a demo: log files, where each site stands, configurations. */
export const demoLogs = (data: string): string => join(data, 'incoming');
export const demoStates = (data: string): string => join(data, 'demo-sites');
export const demoConfig = (data: string): string => join(data, 'demo-config');

export type FeedMessage =
  | { readonly site: string; readonly place: number; readonly lines: number }
  | { readonly isReady: true }
  | { readonly refusal: Refusal };

/** What is told to the process that lives the present. */
export type SitesOrder =
  /** `isAgain`: an earlier process has said up to about now already. */
  | { readonly add: number; readonly isAgain: boolean }
  | { readonly ask: number; readonly start: { site: string; fault: string; minutes: number | null } }
  | { readonly ask: number; readonly clear: { site: string } };

/** The living fleet as its process tells it, whenever something of it changes. */
export interface FleetNow {
  readonly sites: readonly { readonly site: string; readonly name: string; readonly way: string }[];
  readonly started: readonly {
    readonly id: string;
    readonly site: string;
    readonly fault: string;
    readonly subject: string;
    readonly start: number;
    readonly end: number | null;
  }[];
}

export type SitesMessage =
  | { readonly sources: readonly unknown[]; readonly courier: string | null; readonly now: FleetNow }
  /** The answer to an order: whether something was started or ended. */
  | { readonly answered: number; readonly done: boolean; readonly now: FleetNow }
  | { readonly refusal: Refusal };

/** The process of a courier. */
export interface CourierTask {
  /** Path of its kilter.yaml. */
  readonly config: string;
}
export interface CourierMessage {
  readonly say: string;
}

export interface DemoSize {
  readonly sites: number;
  /** Past days. */
  readonly days: number;
  readonly everyS: number;
}

export const PLAIN_DEMO: DemoSize = { sites: 12, days: 60, everyS: 60 };
const SEED = 1;
const EVENT_EVERY_S = 10;
/** What a faster clock has before it, the first time. */
const FAST_FROM_MS = 2 * DAY_MS;
/** The story goes on for half as long as it has been told: its faults lie in the first two thirds. */
const STORY = 1.5;

/**
 * The plan of the folder, made up to now where there is none.
 *
 * @throws NeedsOperator where the folder holds readings of something else
 */
export function demoPlan(
  data: string,
  size: DemoSize,
  nowMs: number,
): { readonly plan: DemoPlan; readonly isNew: boolean } {
  const file = join(data, FILE);
  if (existsSync(file)) {
    const parsed = planSchema.safeParse(JSON.parse(readFileSync(file, 'utf8')));
    if (parsed.success) return { plan: parsed.data, isNew: false };
    throw otherFolder(file, 'this is no plan of a demo fleet');
  }
  if (existsSync(storePath(data))) throw otherFolder(data, 'this folder holds readings that are not of the demo fleet');
  const from = dayOf(nowMs) - size.days * DAY_MS;
  const plan: DemoPlan = {
    seed: SEED,
    from,
    days: Math.ceil(size.days * STORY),
    everyS: size.everyS,
    eventEveryS: Math.min(size.everyS, EVENT_EVERY_S),
    sites: size.sites,
  };
  mkdirSync(data, { recursive: true });
  writeFileSync(file, `${JSON.stringify(plan, null, 2)}\n`);
  return { plan, isNew: true };
}

/** Time of the newest reading that a folder holds; null: none, or no store. */
export function newestStored(data: string): number | null {
  if (!existsSync(storePath(data))) return null;
  const db = openStoreToRead(data);
  try {
    const store = createReadingStore(db);
    const times = store
      .recordSites()
      .flatMap((site) => store.sources(site).map(({ source }) => store.newestReading(source)));
    return times.reduce<number | null>((newest, t) => (t === null ? newest : Math.max(newest ?? t, t)), null);
  } finally {
    db.close();
  }
}

const otherFolder = (where: string, what: string): NeedsOperator =>
  new NeedsOperator({
    where,
    what,
    remedy: 'give the demo a folder of its own: --data DIR; or show these readings with kilter serve --data DIR',
  });
