/** Which sites to judge now: those with news, once their readings rest for a moment; all of them as time passes. */
import type { BoardReads } from '../store/board-reads.ts';
import type { DerivedStore } from '../store/derived-store.ts';
import type { ReadingStore } from '../store/reading-store.ts';
import { MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { judgeSite } from './judge-site.ts';

/** News that still come in are waited for, so that a backfill is folded once … */
const REST_MS = 2 * SECOND_MS;
/** … but for no longer than this. */
const LONGEST_WAIT_MS = 20 * SECOND_MS;
/** A site that sends all the time is judged this often: each time costs its newest day. */
const LEAST_BETWEEN_MS = 10 * SECOND_MS;
/** Silence is news without a reading: every site is looked at this often. */
const ALL_EVERY_MS = MINUTE_MS;

export interface DirtyAnalysis {
  /**
   * Judges what is due, a site at a time.
   *
   * @param pause awaited between sites, so that readings come in meanwhile
   * @returns how many sites got another answer
   */
  run(nowMs: number, pause: () => Promise<void>, isStopped: () => boolean): Promise<number>;
}

interface Waiting {
  readonly sinceMs: number;
  newsMs: number;
}

/** @param failed told of a site that could not be judged; the others are judged all the same */
export function createDirtyAnalysis(
  store: ReadingStore,
  derived: DerivedStore,
  reads: BoardReads,
  failed: (site: string, error: unknown) => void,
): DirtyAnalysis {
  const waiting = new Map<string, Waiting>();
  const judgedMs = new Map<string, number>();
  let seen = -1;
  let allMs = Number.NEGATIVE_INFINITY;
  const gather = (nowMs: number): void => {
    const change = store.change();
    if (change !== seen) {
      const news = seen < 0 ? store.recordSites() : reads.changedSites(seen);
      for (const site of news) {
        const own = waiting.get(site);
        if (own === undefined) waiting.set(site, { sinceMs: nowMs, newsMs: seen < 0 ? nowMs - REST_MS : nowMs });
        else own.newsMs = nowMs;
      }
      seen = change;
    }
    if (nowMs - allMs < ALL_EVERY_MS) return;
    allMs = nowMs;
    for (const site of store.recordSites()) {
      if (!waiting.has(site)) waiting.set(site, { sinceMs: nowMs, newsMs: nowMs - REST_MS });
    }
  };
  return {
    async run(nowMs, pause, isStopped) {
      gather(nowMs);
      let changed = 0;
      for (const [site, { sinceMs, newsMs }] of [...waiting]) {
        if (isStopped()) break;
        const isResting = nowMs - newsMs >= REST_MS || nowMs - sinceMs >= LONGEST_WAIT_MS;
        if (!isResting || nowMs - (judgedMs.get(site) ?? Number.NEGATIVE_INFINITY) < LEAST_BETWEEN_MS) continue;
        waiting.delete(site);
        judgedMs.set(site, nowMs);
        try {
          if (judgeSite(store, derived, site).isOther) changed++;
        } catch (error) {
          failed(site, error);
        }
        await pause();
      }
      return changed;
    },
  };
}
