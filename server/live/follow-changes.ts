/** Follows the change numbers of the stores and tells whoever listens. Nobody calls it: it looks. */
import type { BoardReads } from '../../ingest/store/board-reads.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { LiveChange } from '../contract/live.ts';
import type { Version } from '../contract/scalars.ts';

/** Two reads of one row: cheap enough for every second. */
const LOOK_EVERY_MS = SECOND_MS;
/** Naming more sites is longer than asking for the fleet. */
const NAMED_SITES = 50;

export interface Followed {
  version(): Version;
  readonly reads: Pick<BoardReads, 'answered' | 'changedSites'>;
  nowMs(): number;
}

export interface Changes {
  current(): Version;
  /** Calls back on each change until the returned function is called. */
  listen(listener: (change: LiveChange) => void): () => void;
  /** How many listen. */
  listening(): number;
  /** Looks now; the clock does it each second. */
  look(): void;
  /** Ends all listening: `onClose` of each is called. */
  close(): void;
  onClose(callback: () => void): () => void;
}

export const versionId = ({ change, people }: Version): string => `${change}.${people}`;

/** @param report told of a look that failed; the next one is made all the same */
export function followChanges({ version, reads, nowMs }: Followed, report: (error: unknown) => void): Changes {
  const listeners = new Set<(change: LiveChange) => void>();
  const closers = new Set<() => void>();
  let isClosed = false;
  let known = version();
  let stamps = stampsOf(reads);
  const look = (): void => {
    const now = version();
    if (versionId(now) === versionId(known)) return;
    const before = stamps;
    stamps = stampsOf(reads);
    const sites = now.people === known.people ? changedSites(reads.changedSites(known.change), before, stamps) : null;
    known = now;
    for (const listener of listeners) listener({ ...now, at: nowMs(), sites });
  };
  const timer = setInterval(() => {
    try {
      look();
    } catch (error) {
      report(error);
    }
  }, LOOK_EVERY_MS);
  timer.unref();
  return {
    current: () => known,
    listen(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    listening: () => listeners.size,
    look,
    close() {
      isClosed = true;
      clearInterval(timer);
      for (const closer of [...closers]) closer();
    },
    onClose(callback) {
      if (isClosed) queueMicrotask(callback);
      closers.add(callback);
      return () => closers.delete(callback);
    },
  };
}

function stampsOf(reads: Followed['reads']): ReadonlyMap<string, string> {
  return new Map(reads.answered().map(({ site, stamp }) => [site, stamp]));
}

/** Sites with new readings, and those that were judged anew; null where they are too many to name, or none is known. */
function changedSites(
  read: readonly string[],
  before: ReadonlyMap<string, string>,
  after: ReadonlyMap<string, string>,
): readonly string[] | null {
  const judged = [...after].filter(([site, stamp]) => before.get(site) !== stamp).map(([site]) => site);
  const all = [...new Set([...read, ...judged])].sort();
  return all.length === 0 || all.length > NAMED_SITES ? null : all;
}
