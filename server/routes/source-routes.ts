/** How sources fare, for people and for whoever watches the process. */
import { Gauge, type Registry } from 'prom-client';
import type { SourceStatusStore, StoredStatus } from '../../ingest/store/source-status-store.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { House } from '../answers/house.ts';
import { sourcesAnswer } from '../answers/sources-answer.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { sourcesAnswerSchema } from '../contract/sources.ts';
import { type App, createApp } from '../http/app.ts';
import { describe } from './describe.ts';

/** Statuses change without a change number, so the answer is asked for each time. */
export function sourceRoutes(house: House): App {
  const app = createApp();
  app.get(
    API_ROUTES.sources.path,
    describe('Where readings come from, and how each source fares', sourcesAnswerSchema),
    (c) => {
      c.header('Cache-Control', 'no-store');
      return c.json(sourcesAnswer(house, house.sources));
    },
  );
  return app;
}

interface SourceGaugeRow {
  readonly name: string;
  readonly help: string;
  /** null: nothing is known, and nothing is told. */
  readonly value: (status: StoredStatus, nowMs: number) => number | null;
}

const inSeconds = (ms: number | null): number | null => (ms === null ? null : ms / SECOND_MS);

const GAUGES: readonly SourceGaugeRow[] = [
  { name: 'connected', help: '1 while the source is connected', value: ({ isConnected }) => (isConnected ? 1 : 0) },
  {
    name: 'last_reading_timestamp_seconds',
    help: 'Time of the newest reading',
    value: ({ lastReadingAt }) => inSeconds(lastReadingAt),
  },
  {
    name: 'lag_seconds',
    help: 'How long after its time the last reading was stored',
    value: ({ lagMs }) => inSeconds(lagMs),
  },
  { name: 'readings', help: 'Readings since the source was started', value: ({ readings }) => readings },
  { name: 'refused', help: 'What was not taken since the source was started', value: ({ refused }) => refused },
  {
    name: 'parts_in_trouble',
    help: 'Devices, nodes or gateways with trouble',
    value: ({ parts }) => parts.filter(({ trouble }) => trouble !== null).length,
  },
  { name: 'status_age_seconds', help: 'Since its status was written', value: ({ at }, nowMs) => inSeconds(nowMs - at) },
];

/** One row a source and figure; a source that is gone is no longer told. */
export function addSourceMetrics(registry: Registry, statuses: SourceStatusStore, nowMs: () => number): void {
  for (const { name, help, value } of GAUGES) {
    const gauge = new Gauge({
      name: `kilter_source_${name}`,
      help,
      labelNames: ['source', 'kind'],
      registers: [registry],
      collect() {
        gauge.reset();
        for (const status of statuses.all()) {
          const figure = value(status, nowMs());
          if (figure !== null) gauge.set({ source: status.name, kind: status.kind }, figure);
        }
      },
    });
  }
  const offset = new Gauge({
    name: 'kilter_courier_clock_offset_seconds',
    help: 'How far the clock of a courier is ahead of this one',
    labelNames: ['courier'],
    registers: [registry],
    collect() {
      offset.reset();
      for (const { name, offsetMs } of statuses.clocks())
        if (offsetMs !== null) offset.set({ courier: name }, offsetMs / SECOND_MS);
    },
  });
}
