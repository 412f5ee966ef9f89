/** How long a site carries itself, and the indices of IEEE 1366 for the grid as supplied against the output as felt. */
import { type Interruption, reliabilityIndices } from '../../ingest/electrical/reliability.ts';
import type { SiteAnswer as Analysis } from '../../ingest/store/derived-store.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { Cover, Supplied } from '../contract/cover.ts';
import type { ApiEvent } from '../contract/event.ts';

const YEAR_MS = 365 * DAY_MS;

/**
 * @param events of the site, with what people said of them: tests are left out
 * @param firstAt first stored reading, null where there is none
 */
export function coverOf(
  analysis: Pick<Analysis, 'autonomy' | 'findings'>,
  events: readonly ApiEvent[],
  firstAt: number | null,
  newestAt: number | null,
): Cover {
  const autonomy = analysis.autonomy[0] ?? null;
  if (firstAt === null || newestAt === null || newestAt <= firstAt) return { autonomy, reliability: null };
  const from = Math.max(firstAt, newestAt - YEAR_MS);
  const within = events.filter(({ start, end }) => (end ?? newestAt) > from && start < newestAt);
  const real = within.filter(({ occasion }) => occasion !== 'test');
  const lengthMin = ({ start, end }: ApiEvent): number =>
    (Math.min(end ?? newestAt, newestAt) - Math.max(start, from)) / MINUTE_MS;
  const silentMs = analysis.findings
    .filter(({ kind }) => kind === 'site_silent')
    .reduce((sum, { start, end }) => sum + Math.max(0, Math.min(end ?? newestAt, newestAt) - Math.max(start, from)), 0);
  return {
    autonomy,
    reliability: {
      from,
      to: newestAt,
      grid: supplied(real.map(lengthMin), newestAt - from),
      output: supplied(
        real
          .filter(({ outputLostS }) => outputLostS > 0)
          .map(({ outputLostS }) => (outputLostS * SECOND_MS) / MINUTE_MS),
        newestAt - from,
      ),
      tests: within.length - real.length,
      silentMin: silentMs / MINUTE_MS,
    },
  };
}

function supplied(minutes: readonly number[], periodMs: number): Supplied {
  const interruptions = minutes.map((durationMin): Interruption => ({ customers: 1, durationMin }));
  const { saifi, saidiMin, maifi, asai } = reliabilityIndices(interruptions, 1, periodMs / HOUR_MS);
  return { sustained: saifi, sustainedMin: Math.round(saidiMin * 10) / 10, momentary: maifi, available: asai };
}
