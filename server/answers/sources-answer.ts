/** How every source fares, judged by when its writer last spoke. */
import type { SourceStatusStore, StoredStatus } from '../../ingest/store/source-status-store.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { ListedSource, SourceState, SourcesAnswer } from '../contract/sources.ts';
import type { House } from './house.ts';

/** Statuses are written every few seconds; a worker that judges a large site speaks again within these. */
const STALE_MS = 30 * SECOND_MS;

export function stateOf(status: StoredStatus, nowMs: number): SourceState {
  if (nowMs - status.at > STALE_MS) return 'stale';
  if (!status.isConnected) return 'broken';
  if (status.trouble !== null || status.parts.some(({ trouble }) => trouble !== null)) return 'trouble';
  return status.lastReadingAt === null && status.readings === 0 ? 'waiting' : 'working';
}

export function sourcesAnswer({ readings, nowMs }: House, statuses: SourceStatusStore): SourcesAnswer {
  const now = nowMs();
  return {
    now,
    heartbeatAt: readings.newestHeartbeat(now),
    sources: statuses.all().map((status) => listed(status, now)),
    couriers: statuses.clocks().map(({ name, at, offsetMs }) => ({ name, heardAt: at, offsetMs })),
  };
}

function listed(status: StoredStatus, nowMs: number): ListedSource {
  const { by, at, ...said } = status;
  return { ...said, state: stateOf(status, nowMs), saidAt: at };
}
