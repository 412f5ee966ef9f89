/**
 * Moves what came live from the journal into the blocks of its days: hourly, or earlier where much has come.
 *
 * Straight into the day's block, with no hourly blocks between. Measured with 3,500 sources at 10 s: a sealing takes
 * 4 to 10 s of processor time, the more the fuller the day is, in pieces of 12 blocks: a quarter of a percent of one
 * core. Hourly blocks would save most of that, and every reader of today (the judging of each new reading among them)
 * would pay for it by putting up to 24 pieces together at every look.
 */
import { DAY_MS, HOUR_MS } from '../vocabulary/time.ts';
import { type Journal, journalOf } from './journal.ts';
import type { ReadingStore } from './reading-store.ts';

/** Blocks a call: some 30 ms, so that whoever waits for the loop or for the database waits no longer. */
const BLOCKS_A_CALL = 12;
/** Readings a call: a whole day of four sources at 10 s. */
const READINGS_A_CALL = 35_000;
/** Journal rows deleted a call: of each, the whole blob is walked. */
const ROWS_A_CALL = 100;
/** Unsealed readings stand in the memory of each process that reads. */
const JOURNAL_MAX_BYTES = 64 * 1024 * 1024;

export interface Sealer {
  /**
   * Seals a bounded piece of what is due; call it again while it says that there is more. Only the holder of the
   * worker lock calls it. Each piece is one transaction. Rows leave the journal in the last ones, when all of their
   * readings stand in blocks; until then a reading may stand in both, which is the same reading.
   *
   * @returns whether more is due now
   */
  sealDue(nowMs: number, isStopped: () => boolean): boolean;
  /** The same, with everything due: also what came since a sealing began. @returns whether there is more */
  sealAll(isStopped: () => boolean): boolean;
}

/** What one sealing takes: everything up to a change number. */
interface Plan {
  readonly upTo: number;
  readonly days: readonly { readonly source: number; readonly day: number }[];
  next: number;
}

export function createSealer(store: ReadingStore): Sealer {
  const journal = journalOf(store.db);
  let plan: Plan | null = null;
  let sealedHour = Number.NaN;
  const piece = (isStopped: () => boolean): boolean => {
    const tail = journal.follow();
    if (plan === null) {
      if (tail.isEmpty) return false;
      const days = [...tail.marks()].sort((a, b) => a.source - b.source || a.day - b.day);
      plan = { upTo: tail.last, days, next: 0 };
    }
    const { upTo, days } = plan;
    let { next } = plan;
    const left = store.transaction(() => {
      next = putBlocks(store, journal, plan!, isStopped);
      if (next < days.length) return true;
      return journal.drop(upTo, ROWS_A_CALL) === ROWS_A_CALL;
    });
    plan.next = next;
    if (!left) plan = null;
    return left;
  };
  return {
    sealDue(nowMs, isStopped) {
      const hour = Math.floor(nowMs / HOUR_MS);
      if (plan === null) {
        if (hour === sealedHour && journal.follow().bytes < JOURNAL_MAX_BYTES) return false;
        sealedHour = hour;
      }
      return !isStopped() && piece(isStopped);
    },
    sealAll: (isStopped) => !isStopped() && (piece(isStopped) || !journal.follow().isEmpty),
  };
}

/** Writes the next blocks of a plan and marks their days. @returns the place in the plan that comes next */
function putBlocks(store: ReadingStore, journal: Journal, plan: Plan, isStopped: () => boolean): number {
  let next = plan.next;
  let readings = 0;
  for (let blocks = 0; blocks < BLOCKS_A_CALL && readings < READINGS_A_CALL && next < plan.days.length; blocks++) {
    if (blocks > 0 && isStopped()) break;
    const { source, day } = plan.days[next++]!;
    // Marked by the newest change, of which a part may come only after this sealing: it is marked again then.
    const change = journal
      .follow()
      .marksOf(source)
      .find((mark) => mark.day === day)?.change;
    const laid = store.readBlock(source, day * DAY_MS);
    if (change === undefined || laid === null) continue;
    store.putBlock(source, laid);
    store.markDay(journal.ownerOf(source).site, day * DAY_MS, change);
    readings += laid.tMs.length;
  }
  return next;
}
