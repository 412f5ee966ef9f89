/** The door for readings that come one after the other: durable before it answers, many batches in one transaction. */
import { dirname } from 'node:path';
import { asNeedsOperator } from '../store/open-store.ts';
import type { ReadingBatch } from '../vocabulary/reading.ts';
import { NeedsOperator } from '../vocabulary/refusal.ts';
import type { IntakeCounts, IntakeStore } from './intake.ts';
import { storeLive } from './live-transaction.ts';

/**
 * Where live sources hand their batches on: the store of a worker, or the disk queue of a courier.
 * A source acknowledges to its peer only what this has answered for.
 */
export interface LiveDoor {
  /**
   * Resolves once the batch is on disk and visible to every reader; batches that wait at the same time share one
   * transaction. The batch is not written to afterwards, and the caller does not change it.
   *
   * @throws where the disk can't be written, for example because it is full: then nothing of the batch is stored, and
   * the source offers it again later
   */
  store(batch: ReadingBatch): Promise<IntakeCounts>;
}

/** More readings at once make no transaction cheaper, and keep other work waiting longer. */
const READINGS_A_TRANSACTION = 50_000;

interface Offered {
  readonly batch: ReadingBatch;
  readonly stored: (counts: IntakeCounts) => void;
  readonly failed: (error: unknown) => void;
}

/**
 * The door of a store in this process. Any number of processes may have one on the same folder, beside an import.
 *
 * What it answered for survives a loss of power, as far as the disk keeps its word: the database is opened with
 * `synchronous = FULL`, so a transaction is synced to the write-ahead log before it ends, and only then are its
 * batches answered. Batches that are offered while another transaction is under way, or in the same turn of the event
 * loop, share the next one: its sync is the price of all of them.
 *
 * Where a shared transaction fails for another reason than the disk, its batches are tried one by one, so that a
 * batch that can't be stored keeps no other from it.
 */
export function createLiveDoor(store: IntakeStore): LiveDoor {
  const waiting: Offered[] = [];
  const storeWaiting = (): void => {
    let readings = 0;
    const fits = waiting.findIndex(({ batch }) => {
      readings += batch.readings;
      return readings > READINGS_A_TRANSACTION;
    });
    const group = waiting.splice(0, fits < 0 ? waiting.length : Math.max(1, fits));
    if (waiting.length > 0) setImmediate(storeWaiting);
    storeGroup(store, group);
  };
  return {
    store: (batch) =>
      new Promise((stored, failed) => {
        if (waiting.length === 0) setImmediate(storeWaiting);
        waiting.push({ batch, stored, failed });
      }),
  };
}

function storeGroup(store: IntakeStore, group: readonly Offered[]): void {
  let counts: readonly IntakeCounts[];
  try {
    counts = storeLive(
      store,
      group.map(({ batch }) => batch),
    );
  } catch (error) {
    const told = asNeedsOperator(error, dirname(store.db.name));
    if (group.length === 1 || told instanceof NeedsOperator) for (const { failed } of group) failed(told);
    else for (const offered of group) storeGroup(store, [offered]);
    return;
  }
  for (const [n, { stored }] of group.entries()) stored(counts[n]!);
}
