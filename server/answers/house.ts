/** What every answer is made from: the stores, the clock, and the parsed facts of each site, kept while they hold. */
import { recordAt } from '../../ingest/site/history.ts';
import type { SiteHistory, SiteRecord } from '../../ingest/site/record.ts';
import type { BoardReads } from '../../ingest/store/board-reads.ts';
import type { SiteAnswer as Analysis, DerivedStore } from '../../ingest/store/derived-store.ts';
import type { ReadingStore } from '../../ingest/store/reading-store.ts';
import type { SourceStatusStore } from '../../ingest/store/source-status-store.ts';
import type { Version } from '../contract/scalars.ts';
import type { PeopleStore } from '../store/people-store.ts';

export interface House {
  readonly readings: ReadingStore;
  readonly derived: DerivedStore;
  readonly reads: BoardReads;
  readonly sources: SourceStatusStore;
  readonly people: PeopleStore;
  readonly nowMs: () => number;
}

/** What was found at a site, as it stands now. */
export interface SiteFacts {
  readonly site: string;
  readonly history: SiteHistory;
  readonly analysis: Analysis;
  /** The time as of which it was analysed; null: not analysed yet. */
  readonly asOf: number | null;
}

export interface Facts {
  version(): Version;
  /** Facts of a recorded site; null where no record names it. */
  site(site: string): SiteFacts | null;
  /** All recorded sites, in order of id. */
  sites(): readonly SiteFacts[];
}

const NOTHING: Analysis = { findings: [], events: [], cannotTell: [], figures: [], shareCharts: [], autonomy: [] };
/** Answers that are kept parsed: a fleet of 1,000 sites fits. */
const KEPT_SITES = 1200;

/** The document of a site's record that holds now. */
export const recordNow = ({ history }: SiteFacts, nowMs: number): SiteRecord => recordAt(history, nowMs);

/** Reads each site's answer once and again only after it was analysed anew, or its record changed. */
export function createFacts({ readings, derived, reads, people }: House): Facts {
  const kept = new Map<string, { readonly stamp: string; readonly facts: SiteFacts }>();
  const read = (site: string, stamp: string, asOf: number | null): SiteFacts | null => {
    const own = kept.get(site);
    if (own?.stamp === stamp) return own.facts;
    const recorded = readings.siteHistory(site);
    if (recorded === null) return null;
    const analysis = asOf === null ? NOTHING : derived.answer(site);
    const facts = { site, history: recorded.history, analysis, asOf };
    if (kept.size >= KEPT_SITES && !kept.has(site)) kept.delete(kept.keys().next().value ?? '');
    kept.set(site, { stamp, facts });
    return facts;
  };
  return {
    version: () => ({ change: readings.change(), people: people.change() }),
    site(site) {
      const answered = reads.answeredSite(site);
      const seq = readings.siteHistory(site)?.seq;
      return seq === undefined ? null : read(site, `${seq} ${answered?.stamp ?? ''}`, answered?.asOf ?? null);
    },
    sites() {
      const answered = new Map(reads.answered().map((one) => [one.site, one]));
      return [...reads.recordSeqs()]
        .sort((a, b) => (a[0] < b[0] ? -1 : 1))
        .flatMap(([site, seq]) => {
          const own = answered.get(site);
          return read(site, `${seq} ${own?.stamp ?? ''}`, own?.asOf ?? null) ?? [];
        });
    },
  };
}
