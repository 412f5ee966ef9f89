/** The demo fleet of a data folder: planned once, so that the same days come again at every start. */
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { storePath } from '../../ingest/store/open-store.ts';
import { NeedsOperator, type Refusal } from '../../ingest/vocabulary/refusal.ts';
import { DAY_MS, dayOf } from '../../ingest/vocabulary/time.ts';

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

/** What one feed process does. */
export interface FeedTask {
  readonly plan: DemoPlan;
  /** Which sites of the fleet it lives. */
  readonly places: readonly number[];
  readonly data: string;
  /** Folder of the log files of the present. */
  readonly logs: string;
}

export type FeedMessage =
  | { readonly site: string; readonly lines: number }
  | { readonly isReady: true }
  | { readonly refusal: Refusal };

export interface DemoSize {
  readonly sites: number;
  /** Past days. */
  readonly days: number;
  readonly everyS: number;
}

export const PLAIN_DEMO: DemoSize = { sites: 12, days: 60, everyS: 60 };
const SEED = 1;
const EVENT_EVERY_S = 10;
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

const otherFolder = (where: string, what: string): NeedsOperator =>
  new NeedsOperator({
    where,
    what,
    remedy: 'give the demo a folder of its own: --data DIR; or show these readings with kilter serve --data DIR',
  });
