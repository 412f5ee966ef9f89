/** Opens a data folder for a command that asks what was found, and brings the analysis up to date. */
import { analyseSite } from '../runner/analyse-site.ts';
import { judgeSite } from '../runner/judge-site.ts';
import { nearestWord } from '../site/nearest-word.ts';
import type { SiteHistory } from '../site/record.ts';
import { createDerivedStore, type SiteAnswer } from '../store/derived-store.ts';
import { openStore, openStoreToRead } from '../store/open-store.ts';
import { createReadingStore, type ReadingStore, type StoredSource } from '../store/reading-store.ts';
import { takeWorkerLock, type WorkerLock } from '../store/worker-lock.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import type { EpochMs } from '../vocabulary/time.ts';
import type { Io } from './command.ts';
import { type Beside, judgeBeside } from './judge-beside.ts';

export interface AnalysedSite {
  readonly site: string;
  readonly history: SiteHistory;
  readonly answer: SiteAnswer;
}

export interface AnalysedStore {
  readonly store: ReadingStore;
  /** The answer of a recorded site, new days folded in; null where no record names it. */
  analyse(site: string): AnalysedSite | null;
  /** A thread that judges the same sites from the last one on; null where the answers are made in memory. */
  beside(sites: readonly string[]): Beside | null;
  close(): void;
}

/**
 * Holds the worker lock and writes what is new, where the lock is free; else another process writes, and the answer
 * is made in memory. An answer as of some time past is never written.
 *
 * @throws NeedsOperator where nothing is stored in the folder
 */
export function openAnalysed(folder: string, asOf: EpochMs | null): AnalysedStore {
  // First for reading: a mistyped folder must not come into being.
  const reading = openStoreToRead(folder);
  const lock = asOf === null ? lockIfWritable(folder) : null;
  let db = reading;
  if (lock !== null) {
    reading.close();
    db = openStore(folder);
  }
  const store = createReadingStore(db);
  const derived = createDerivedStore(db);
  const answerOf = (site: string): SiteAnswer | null =>
    lock === null
      ? analyseSite(store, derived, site, { asOf, mayWrite: false })
      : judgeSite(store, derived, site).answer;
  return {
    store,
    analyse(site) {
      // In one read transaction, so that a worker that writes meanwhile does not mix two states into one answer.
      const answer = lock === null ? db.transaction(answerOf)(site) : answerOf(site);
      const history = store.siteHistory(site)?.history;
      return answer === null || history === undefined ? null : { site, history, answer };
    },
    beside: (sites) => (lock === null ? null : judgeBeside(folder, sites)),
    close() {
      db.close();
      lock?.release();
    },
  };
}

/**
 * Analyses sites one after the other and hands each on; a site that can't be analysed is named and keeps no other
 * from its answer.
 *
 * @throws the first error of a site, after all others are done
 */
export async function analyseEach(
  { analyse, beside }: AnalysedStore,
  sites: readonly string[],
  io: Io,
  take: (site: AnalysedSite) => void,
): Promise<void> {
  let first: unknown = null;
  const other = beside(sites);
  try {
    for (const [index, site] of sites.entries()) {
      await other?.claim(index);
      try {
        const one = analyse(site);
        if (one !== null) take(one);
      } catch (error) {
        if (error instanceof NeedsOperator) throw error;
        io.err(`${site}: this site could not be analysed; the answer is without it`);
        first ??= error;
      }
      await io.drained();
    }
  } finally {
    await other?.close();
  }
  if (first !== null) throw first;
}

/** A folder that may only be read is no reason not to answer. */
function lockIfWritable(folder: string): WorkerLock | null {
  try {
    return takeWorkerLock(folder);
  } catch (error) {
    if (error instanceof NeedsOperator) return null;
    throw error;
  }
}

/**
 * The sites that a command is about.
 *
 * @throws NeedsOperator where the site asked for is neither recorded nor heard
 */
export function chosenSites(store: ReadingStore, command: string, site: string | undefined): readonly string[] {
  const recorded = store.recordSites();
  if (site === undefined) return recorded;
  const known = [...new Set([...recorded, ...store.heardSites()])].sort();
  if (known.includes(site)) return recorded.filter((one) => one === site);
  throw unknownSite(command, site, known);
}

export function unknownSite(command: string, site: string, known: readonly string[]): NeedsOperator {
  const near = nearestWord(site, known);
  const list =
    known.length === 0
      ? 'none is stored here'
      : `stored here: ${known.slice(0, 12).join(', ')}${known.length > 12 ? ' …' : ''}`;
  return new NeedsOperator({
    where: `kilter ${command}`,
    what: `there is no site "${site}"`,
    remedy: near === null ? list : `did you mean ${near}?`,
  });
}

/** Says once what is stored but named by no record. */
export function nameUnrecorded(store: ReadingStore, site: string | undefined, io: Io): void {
  const historyOf = (one: string): SiteHistory | null => store.siteHistory(one)?.history ?? null;
  for (const line of sayUnrecorded(store.sources(site), historyOf)) io.err(line);
  const recorded = store.recordSites().filter((one) => site === undefined || one === site);
  for (const one of recorded) {
    if (store.sources(one).length === 0) io.err(`${one}: nothing is stored of this site, so nothing can be told of it`);
  }
}

/** What is stored but named by no record, one line a site. */
export function sayUnrecorded(
  sources: readonly StoredSource[],
  historyOf: (site: string) => SiteHistory | null,
): string[] {
  const bySite = new Map<string, StoredSource[]>();
  for (const source of sources) bySite.set(source.site, [...(bySite.get(source.site) ?? []), source]);
  const lines: string[] = [];
  for (const [site, own] of bySite) {
    const history = historyOf(site);
    if (history === null) {
      lines.push(
        `${site}: no record names this site; what it sent is stored and will be judged once kilter import --sites gives its record`,
      );
      continue;
    }
    const named = new Set(
      history.documents.flatMap(({ units, packs, meters }) => [
        ...units.map(({ id }) => `unit ${id}`),
        ...packs.map(({ id }) => `pack ${id}`),
        ...meters.map(({ id }) => `meter ${id}`),
      ]),
    );
    const others = own.filter(({ kind, id }) => kind !== 'bank' && !named.has(`${kind} ${id}`));
    if (others.length > 0) {
      const list = others.map(({ kind, id }) => `${kind} ${id}`).join(', ');
      lines.push(
        `${site}: its record does not name ${list}; what they sent is stored and will be judged once they are recorded`,
      );
    }
  }
  return lines;
}
