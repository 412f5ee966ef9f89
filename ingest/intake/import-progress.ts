/** How far an import came, written in the transaction that stores what it read, so that the two never disagree. */
import { randomUUID } from 'node:crypto';
import type { ReadingStore } from '../store/reading-store.ts';

export interface ProgressCounts {
  readonly files: number;
  readonly lines: number;
  readonly stored: number;
  readonly alreadyThere: number;
  readonly refused: number;
  /** The sites that its lines named. */
  readonly sites: readonly string[];
}

interface KnownFile {
  readonly path: string;
  readonly identity: string;
}

export interface ImportProgress {
  /** The counts of the run that was broken off, or null. */
  counts(): ProgressCounts | null;
  /** Whether a file is stored whole, else the line at which to go on. A file that has changed begins anew. */
  of(file: KnownFile): 'done' | number;
  /** Call it inside the flush. */
  put(state: {
    readonly done: readonly KnownFile[];
    readonly at: { readonly file: KnownFile; readonly nextLine: number } | null;
    readonly counts: ProgressCounts;
    readonly refused: readonly {
      readonly path: string;
      readonly line: number;
      readonly what: string;
      readonly remedy: string;
    }[];
  }): void;
  /** The run has ended. */
  clear(): void;
}

/**
 * Two processes may import the same files at once. Then the rows are those of whoever wrote last, and the other keeps
 * none from there on: places of one and counts of the other would add up to nothing.
 */
export function createImportProgress(store: ReadingStore, run: string): ImportProgress {
  const rows = store.importProgress(run);
  const by = randomUUID();
  let own = rows.totals();
  /** Whether the rows are as this process left or found them. */
  const isOwn = (): boolean => rows.totals() === own;
  return {
    counts() {
      if (own === null) return null;
      const { files, lines, stored, alreadyThere, refused, sites } = JSON.parse(own) as ProgressCounts;
      return { files, lines, stored, alreadyThere, refused, sites };
    },
    of({ path, identity }) {
      const row = rows.file(path);
      if (row === null || row.identity !== identity) return 1;
      return row.done ? 'done' : row.line;
    },
    put({ done, at, counts, refused }) {
      if (isOwn()) {
        for (const { path, identity } of done) rows.put(path, identity, 1, true);
        if (at !== null) rows.put(at.file.path, at.file.identity, at.nextLine, false);
        own = JSON.stringify({ ...counts, by });
        rows.putTotals(own);
      }
      for (const { path, line, what, remedy } of refused) rows.addRefusal(path, line, what, remedy);
    },
    clear() {
      store.transaction(() => {
        if (isOwn()) rows.clear();
      });
    },
  };
}
