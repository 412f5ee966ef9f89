/**
 * The demo fleet as processes: two that live its past, because the machine that shows it has two cores at least, and
 * end; one that lives its present, and the courier of one site.
 */
import { mkdirSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import type { RunConfig } from '../../ingest/sources/make-source.ts';
import type { FastClock } from '../../ingest/vocabulary/fast-clock.ts';
import { sayRefusal } from '../../ingest/vocabulary/refusal.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { DemoHold } from '../routes/demo-routes.ts';
import { type Child, startChild } from './child.ts';
import {
  type CourierMessage,
  type CourierTask,
  type DemoPlan,
  demoLogs,
  type FeedMessage,
  type FeedTask,
  type SitesMessage,
  type SitesTask,
} from './demo-plan.ts';
import { createFleetHold } from './fleet-hold.ts';
import { isRunBy, readSources } from './source-kinds.ts';

const FEED = new URL('../demo-feed.ts', import.meta.url);
const SITES = new URL('../demo-sites.ts', import.meta.url);
const COURIER = new URL('../demo-courier.ts', import.meta.url);
const MOST_FEEDS = 2;
const REST_MS = 5 * SECOND_MS;

export interface RunningDemo {
  /** Resolves when the past of all sites is stored; false where the demo could not be made. */
  readonly ready: Promise<boolean>;
  /** What the demo's page shows and does. */
  readonly hold: DemoHold;
  stop(graceMs: number): Promise<void>;
}

export interface DemoHouse {
  readonly plan: DemoPlan;
  readonly data: string;
  readonly clock: FastClock;
  /** Told of each site that is stored, and of what went wrong. */
  say(line: string): void;
  /** From now on the fleet is read by these. */
  setSources(sources: readonly RunConfig[]): void;
}

export function runDemo(house: DemoHouse): RunningDemo {
  mkdirSync(demoLogs(house.data), { recursive: true });
  const sites = keepSites(house);
  const feeds = startFeeds(house, sites.add);
  return {
    ready: feeds.ready,
    hold: sites.hold,
    async stop(graceMs) {
      await Promise.all([sites.stop(graceMs), ...feeds.children.map((child) => child.stop(graceMs))]);
    },
  };
}

function startFeeds({ plan, data, clock, say }: DemoHouse, stored: (place: number) => void) {
  const places = Array.from({ length: plan.sites }, (_, place) => place);
  const feeds = Math.max(1, Math.min(MOST_FEEDS, plan.sites, availableParallelism()));
  let count = 0;
  const children: Child<FeedMessage>[] = [];
  const readies = Array.from({ length: feeds }, (_, feed) => {
    const task: FeedTask = { plan, places: places.filter((place) => place % feeds === feed), data, clock };
    const child = startChild<FeedMessage>(FEED, task);
    children.push(child);
    return new Promise<boolean>((resolve) => {
      child.onMessage((message) => {
        if ('site' in message) {
          count++;
          say(`${message.site}: ${message.lines} lines stored (${count} of ${plan.sites} sites)`);
          stored(message.place);
        } else if ('refusal' in message) say(sayRefusal(message.refusal));
        else resolve(true);
      });
      void child.ended.then(() => resolve(false));
    });
  });
  return { children, ready: Promise.all(readies).then((all) => all.every(Boolean)) };
}

/** The process of the present; started again where it ended by itself. Meanwhile its sites are silent, and shown so. */
function keepSites({ plan, data, clock, say, setSources }: DemoHouse) {
  const added: number[] = [];
  const courier = keepCourier(say);
  let child: Child<SitesMessage> | null = null;
  let isStopping = false;
  let timer: NodeJS.Timeout | undefined;
  const hold = createFleetHold((order) => child?.send(order));
  const hear = (message: SitesMessage): void => {
    if ('refusal' in message) {
      say(sayRefusal(message.refusal));
      return;
    }
    hold.hear(message.now, 'answered' in message ? message : null);
    if (!('sources' in message)) return;
    const { sources, faults } = readSources(message.sources, { folder: data, env: {} });
    for (const { fault } of faults) say(`the living demo fleet: ${fault.what}; ${fault.remedy}`);
    setSources(sources.filter(isRunBy.worker));
    if (message.courier !== null) courier.run({ config: message.courier });
  };
  const start = (): void => {
    const own = startChild<SitesMessage>(SITES, { plan, data, clock } satisfies SitesTask);
    child = own;
    own.onMessage(hear);
    for (const add of added) own.send({ add, isAgain: true });
    void own.ended.then(() => {
      hold.lose();
      if (isStopping) return;
      // It is started again with the ports of the next.
      void courier.end();
      say(`the living demo fleet ended; its sites are silent until it is started again in ${REST_MS / SECOND_MS} s`);
      timer = setTimeout(start, REST_MS);
    });
  };
  start();
  return {
    hold,
    add(place: number): void {
      added.push(place);
      child?.send({ add: place, isAgain: false });
    },
    async stop(graceMs: number): Promise<void> {
      isStopping = true;
      clearTimeout(timer);
      await Promise.all([courier.stop(graceMs), child?.stop(graceMs)]);
    },
  };
}

/** One courier for as long as the fleet lives. */
function keepCourier(say: (line: string) => void) {
  let child: Child<CourierMessage> | null = null;
  let isEnding = false;
  return {
    run(task: CourierTask): void {
      if (child !== null) return;
      const own = startChild<CourierMessage>(COURIER, task);
      child = own;
      own.onMessage((message) => say(`the demo's courier: ${message.say}`));
      void own.ended.then(() => {
        child = null;
        if (!isEnding) say("the demo's courier ended; its site is silent until Kilter is started again");
      });
    },
    async end(): Promise<void> {
      isEnding = true;
      await child?.stop(REST_MS);
      isEnding = false;
    },
    async stop(graceMs: number): Promise<void> {
      isEnding = true;
      await child?.stop(graceMs);
    },
  };
}
