/** For whoever watches the process: alive, ready, figures. They tell nothing of sites but counts. */

import type { MiddlewareHandler } from 'hono';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import { SEVERITIES } from '../../ingest/vocabulary/finding.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { Facts, House } from '../answers/house.ts';
import { type App, createApp } from '../http/app.ts';
import { addSourceMetrics } from './source-routes.ts';

export interface Metrics {
  readonly registry: Registry;
  /** Counts and times every request. */
  readonly measured: MiddlewareHandler;
}

/** @param streams how many live streams are open */
export function createMetrics({ readings, sources, nowMs }: House, facts: Facts, streams: () => number): Metrics {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  const requests = new Counter({
    name: 'kilter_http_requests_total',
    help: 'Requests answered, by route and status',
    labelNames: ['method', 'route', 'status'],
    registers: [registry],
  });
  const seconds = new Histogram({
    name: 'kilter_http_request_seconds',
    help: 'Time until the answer was ready',
    labelNames: ['route'],
    buckets: [0.005, 0.01, 0.025, 0.05, 0.1, 0.15, 0.3, 1, 3],
    registers: [registry],
  });
  gauge(registry, 'kilter_live_streams', 'Open live streams', streams);
  gauge(registry, 'kilter_store_change', 'Change number of the readings store', () => readings.change());
  gauge(registry, 'kilter_worker_heartbeat_age_seconds', 'Since the worker last wrote that it listens; -1: never', () =>
    heartbeatAgeS(readings.newestHeartbeat(nowMs()), nowMs()),
  );
  addSourceMetrics(registry, sources, nowMs);
  gauge(registry, 'kilter_sites', 'Recorded sites', () => facts.sites().length);
  const open = new Gauge({
    name: 'kilter_open_findings',
    help: 'Findings that last, by severity',
    labelNames: ['severity'],
    registers: [registry],
    collect() {
      const all = facts.sites().flatMap(({ analysis }) => analysis.findings.filter(({ end }) => end === null));
      for (const severity of SEVERITIES) open.set({ severity }, all.filter((f) => f.severity === severity).length);
    },
  });
  return {
    registry,
    measured: async (c, next) => {
      const startedMs = performance.now();
      await next();
      // The pattern, not the address: addresses are without number. What only a gate or the pages took counts as one.
      const route = c.req.matchedRoutes.findLast(({ path }) => !path.includes('*'))?.path ?? 'other';
      requests.inc({ method: c.req.method, route, status: String(c.res.status) });
      seconds.observe({ route }, (performance.now() - startedMs) / SECOND_MS);
    },
  };
}

function gauge(registry: Registry, name: string, help: string, value: () => number): void {
  const made = new Gauge({
    name,
    help,
    registers: [registry],
    collect() {
      made.set(value());
    },
  });
}

const heartbeatAgeS = (heartbeat: number | null, nowMs: number): number =>
  heartbeat === null ? -1 : Math.round((nowMs - heartbeat) / SECOND_MS);

export function processRoutes({ readings, nowMs }: House, { registry }: Metrics): App {
  const app = createApp();
  app.get('/healthz', (c) => c.json({ alive: true }));
  // Ready: the store answers. A worker that stopped shows in its age, and is no reason to send people away.
  app.get('/readyz', (c) => {
    const now = nowMs();
    const ageS = heartbeatAgeS(readings.newestHeartbeat(now), now);
    return c.json({ ready: true, change: readings.change(), worker_heartbeat_age_s: ageS < 0 ? null : ageS });
  });
  app.get('/metrics', async (c) => {
    c.header('Content-Type', registry.contentType);
    return c.body(await registry.metrics());
  });
  return app;
}
