/** The demo's own page: what was put into its sites, and a way to put in more. */
import type { House } from '../answers/house.ts';
import {
  DEMO_FAULTS,
  DEMO_WAYS,
  type DemoAnswer,
  demoAnswerSchema,
  endFaultsSchema,
  type StartFault,
  startFaultSchema,
} from '../contract/demo.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { type App, createApp } from '../http/app.ts';
import { badRequest, noSuchSite, ProblemError } from '../http/problem-error.ts';
import { describe, reads } from './describe.ts';

/** The living fleet as the server holds it. */
export interface DemoHold {
  /** null: it does not live now. */
  now(): {
    readonly sites: readonly { readonly site: string; readonly name: string; readonly way: string }[];
    readonly started: readonly (Omit<DemoAnswer['started'][number], 'fault'> & { readonly fault: string })[];
  } | null;
  /** Resolves to whether something was started; null: nobody answered in time. */
  start(asked: StartFault): Promise<boolean | null>;
  /** Resolves to whether something ended; null: nobody answered in time. */
  clear(site: string): Promise<boolean | null>;
}

/** @param demo null where this board shows no demo */
export function demoRoutes({ nowMs }: Pick<House, 'nowMs'>, demo: (() => DemoHold | null) | null): App {
  const app = createApp();
  const answer = (): DemoAnswer => {
    const known = demo?.()?.now() ?? null;
    const way = (word: string) => DEMO_WAYS.find((one) => one === word);
    const fault = (word: string) => DEMO_FAULTS.find((one) => one === word);
    return {
      now: nowMs(),
      isRunning: demo !== null,
      sites: (known?.sites ?? []).flatMap((site) => {
        const known = way(site.way);
        return known === undefined ? [] : [{ ...site, way: known }];
      }),
      started: (known?.started ?? [])
        .flatMap((one) => {
          const known = fault(one.fault);
          return known === undefined ? [] : [{ ...one, fault: known }];
        })
        .sort((a, b) => b.start - a.start),
    };
  };
  app.get(API_ROUTES.demo.path, describe('The demo fleet', demoAnswerSchema), (c) => {
    c.header('Cache-Control', 'no-store');
    return c.json(answer());
  });
  app.post(
    API_ROUTES.demoStart.path,
    describe('Start a fault', demoAnswerSchema),
    reads('json', startFaultSchema),
    async (c) => {
      const asked = c.req.valid('json');
      const hold = holdOf(demo, asked.site);
      if (asked.fault === 'grid_loss' && asked.minutes === null)
        throw badRequest('the body, minutes', 'a grid loss has no end', 'give the minutes that it lasts');
      const done = await hold.start(asked);
      if (done === null) throw notReady();
      if (!done)
        throw badRequest(
          'the body, fault',
          `${asked.fault} lasts at ${asked.site} already`,
          'end it first, or take another site',
        );
      return c.json(answer());
    },
  );
  app.post(
    API_ROUTES.demoEnd.path,
    describe('End what was started at a site', demoAnswerSchema),
    reads('json', endFaultsSchema),
    async (c) => {
      const { site } = c.req.valid('json');
      if ((await holdOf(demo, site).clear(site)) === null) throw notReady();
      return c.json(answer());
    },
  );
  return app;
}

function holdOf(demo: (() => DemoHold | null) | null, site: string): DemoHold {
  if (demo === null)
    throw new ProblemError({
      id: 'no_such_route',
      where: 'the address',
      what: 'this board shows no demo',
      remedy: 'kilter start without a configuration runs one',
    });
  const hold = demo();
  const known = hold?.now() ?? null;
  if (hold === null || known === null) throw notReady();
  if (!known.sites.some((one) => one.site === site)) throw noSuchSite(site);
  return hold;
}

const notReady = (): ProblemError =>
  new ProblemError({
    id: 'not_ready',
    where: 'the demo fleet',
    what: 'it does not live now',
    remedy: 'wait until its past is made',
  });
