/** All routes in one app: gates first, then answers, then the built pages. */

import { compress } from 'hono/compress';
import { openAPIRouteHandler } from 'hono-openapi';
import type { PushSource } from '../../ingest/sources/push/push-source.ts';
import { createColumnCache } from '../answers/column-cache.ts';
import { createFacts, type House } from '../answers/house.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { type App, createApp } from '../http/app.ts';
import { answerError, answerNoRoute } from '../http/one-error.ts';
import { knownHost, sameOrigin } from '../http/same-origin.ts';
import { securityHeaders } from '../http/security-headers.ts';
import { staticFiles } from '../http/static-files.ts';
import { tokenGate } from '../http/token-gate.ts';
import { versionEtag } from '../http/version-etag.ts';
import { followChanges } from '../live/follow-changes.ts';
import { liveStream } from '../live/live-stream.ts';
import { type DemoHold, demoRoutes } from './demo-routes.ts';
import { describe } from './describe.ts';
import { fleetRoutes } from './fleet-routes.ts';
import { createMetrics, processRoutes } from './process-routes.ts';
import { pushRoutes } from './push-routes.ts';
import { readingRoutes, siteRoutes } from './site-routes.ts';
import { sourceRoutes } from './source-routes.ts';

export interface BoardOptions {
  readonly house: House;
  /** Folder of the built pages; null: the API alone. */
  readonly pages: string | null;
  /** null: none is configured. */
  readonly token: string | null;
  /** Whether a Host header is one of ours. */
  readonly isKnownHost: (host: string) => boolean;
  readonly version: string;
  /** The push source as the configuration stands now; null: it names none. */
  readonly push: () => PushSource | null;
  /** The demo fleet as it lives now; left out where the board shows none. */
  readonly demo?: (() => DemoHold | null) | null;
  /** Differs from start to start. */
  readonly bootedAs: string;
  /** Told of errors that nobody expected. */
  readonly report: (error: unknown) => void;
}

export interface Board {
  readonly app: App;
  /** Ends the live streams. */
  close(): void;
}

export function createBoard({
  house,
  pages,
  token,
  isKnownHost,
  version,
  push,
  demo = null,
  bootedAs,
  report,
}: BoardOptions): Board {
  const facts = createFacts(house);
  const cache = createColumnCache(house.readings);
  const changes = followChanges({ version: facts.version, reads: house.reads, nowMs: house.nowMs }, report);
  const metrics = createMetrics(house, facts, changes.listening);
  const app = createApp();
  app.onError(answerError(report));
  app.notFound(answerNoRoute);
  app.use(metrics.measured, securityHeaders, knownHost(isKnownHost));
  app.route('/', pushRoutes({ source: push, token, nowMs: house.nowMs, report }));
  app.use(tokenGate(token), sameOrigin);
  app.get(API_ROUTES.live.path, describe('Changes as they come', 'text/event-stream'), (c) => {
    c.header('Cache-Control', 'no-store');
    const { nowMs, readings } = house;
    return liveStream(c, changes, { nowMs, workerAt: () => readings.newestHeartbeat(nowMs()) });
  });
  // The stream above is never compressed: a change must not wait in a buffer.
  app.use('/api/*', compress());
  app.get(
    API_ROUTES.openapi.path,
    openAPIRouteHandler(app, {
      documentation: {
        openapi: '3.1.0',
        info: {
          title: 'Kilter',
          version,
          description: 'Times are epoch milliseconds, UTC. null is absent, never zero.',
        },
      },
    }),
  );
  app.route('/', sourceRoutes(house));
  app.route('/', demoRoutes(house, demo));
  app.use('/api/*', versionEtag(facts.version, house.nowMs, bootedAs));
  const routed = { house, facts, cache };
  for (const part of [fleetRoutes(routed), siteRoutes(routed), readingRoutes(routed)]) app.route('/', part);
  app.route('/', processRoutes(house, metrics));
  if (pages !== null) app.use(staticFiles(pages));
  return { app, close: changes.close };
}
