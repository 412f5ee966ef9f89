/** The demo fleet as processes: two, because the machine that shows it has two cores at least. */
import { mkdirSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { join } from 'node:path';
import { sayRefusal } from '../../ingest/vocabulary/refusal.ts';
import { type Child, startChild } from './child.ts';
import type { DemoPlan, FeedMessage, FeedTask } from './demo-plan.ts';

const FEED = new URL('../demo-feed.ts', import.meta.url);
const MOST_FEEDS = 2;
const LOGS = 'incoming';

/** The folder of a demo's log files, which the worker reads. */
export const demoLogs = (data: string): string => join(data, LOGS);

export interface RunningDemo {
  /** Resolves when the past of all sites is stored; false where the demo could not be made. */
  readonly ready: Promise<boolean>;
  stop(graceMs: number): Promise<void>;
}

/** @param say told of each site that is stored, and of what went wrong */
export function runDemo(plan: DemoPlan, data: string, say: (line: string) => void): RunningDemo {
  mkdirSync(demoLogs(data), { recursive: true });
  const places = Array.from({ length: plan.sites }, (_, place) => place);
  const feeds = Math.max(1, Math.min(MOST_FEEDS, plan.sites, availableParallelism()));
  let stored = 0;
  const children: Child<FeedMessage>[] = [];
  const readies = Array.from({ length: feeds }, (_, feed) => {
    const own = places.filter((place) => place % feeds === feed);
    const task: FeedTask = { plan, places: own, data, logs: demoLogs(data) };
    const child = startChild<FeedMessage>(FEED, task);
    children.push(child);
    return new Promise<boolean>((resolve) => {
      child.onMessage((message) => {
        if ('site' in message) {
          stored++;
          say(`${message.site}: ${message.lines} lines stored (${stored} of ${plan.sites} sites)`);
        } else if ('refusal' in message) say(sayRefusal(message.refusal));
        else resolve(true);
      });
      void child.ended.then(() => resolve(false));
    });
  });
  return {
    ready: Promise.all(readies).then((all) => all.every(Boolean)),
    async stop(graceMs) {
      await Promise.all(children.map((child) => child.stop(graceMs)));
    },
  };
}
