/** Hands batches to the door; what it does not take is kept, bounded, and offered again. */
import type { LiveDoor } from '../../intake/live-door.ts';
import type { ReadingBatch } from '../../vocabulary/reading.ts';

export interface KeeperListener {
  stored(batch: ReadingBatch): void;
  /** The door began to refuse, or takes again (null). */
  trouble(why: string | null): void;
  /** So many readings were given up, because no more can be kept. */
  thinned(readings: number): void;
}

export const KEEPER_LIMITS = {
  /** A site of seven devices at ten seconds: most of a day; a reading is about half a kilobyte. */
  readings: 50_000,
  againMs: 5000,
  /** Batches that are offered at once when the door takes again: they share a transaction. */
  together: 16,
} as const;

export class BatchKeeper {
  readonly #door: LiveDoor;
  readonly #listener: KeeperListener;
  readonly #most: number;
  /** Oldest first. */
  #kept: ReadingBatch[] = [];
  #offered = 0;
  #again: NodeJS.Timeout | null = null;
  #isRefused = false;
  #work: Promise<void> = Promise.resolve();
  #isWorking = false;

  constructor(door: LiveDoor, listener: KeeperListener, most: number = KEEPER_LIMITS.readings) {
    this.#door = door;
    this.#listener = listener;
    this.#most = most;
  }

  /** Readings that are not stored yet. */
  get waiting(): number {
    return this.#kept.reduce((sum, { readings }) => sum + readings, 0);
  }

  offer(batch: ReadingBatch): void {
    // Its array is as long as it had to grow: what is kept for hours is cut to what it holds.
    this.#kept.push({ ...batch, rows: batch.rows.slice(0, batch.rowsLength) });
    this.#thin();
    if (this.#again === null) this.#start();
  }

  /** Offers what is left once more. */
  async finish(): Promise<void> {
    if (this.#again !== null) clearTimeout(this.#again);
    this.#again = null;
    await this.#work;
    if (this.#again !== null) clearTimeout(this.#again);
    this.#again = null;
  }

  #start(): void {
    if (this.#isWorking) return;
    this.#isWorking = true;
    this.#work = this.#storeAll().finally(() => {
      this.#isWorking = false;
    });
  }

  async #storeAll(): Promise<void> {
    while (this.#kept.length > 0) {
      const batches = this.#kept.slice(0, this.#isRefused ? 1 : KEEPER_LIMITS.together);
      this.#offered = batches.length;
      const outcomes = await Promise.allSettled(batches.map((batch) => this.#door.store(batch)));
      this.#offered = 0;
      const left = batches.filter((_, i) => outcomes[i]!.status === 'rejected');
      this.#kept.splice(0, batches.length, ...left);
      for (const [i, batch] of batches.entries()) if (outcomes[i]!.status === 'fulfilled') this.#listener.stored(batch);
      const refused = outcomes.find((outcome) => outcome.status === 'rejected');
      if (refused !== undefined) {
        this.#refuse(refused.reason);
        return;
      }
      if (this.#isRefused) this.#listener.trouble(null);
      this.#isRefused = false;
    }
  }

  #refuse(reason: unknown): void {
    this.#isRefused = true;
    this.#listener.trouble(reason instanceof Error ? reason.message : String(reason));
    this.#again = setTimeout(() => {
      this.#again = null;
      this.#start();
    }, KEEPER_LIMITS.againMs);
  }

  /**
   * Gives up every second batch of the older half, so that the whole time stays covered. Batches with settings or
   * alarms are rare and say what nothing else says: they go last.
   */
  #thin(): void {
    while (this.waiting > this.#most) {
      const half = Math.max(1, this.#kept.length >> 1);
      const older = this.#kept.slice(this.#offered, half + this.#offered);
      const plain = older.filter(({ settings, alarms }) => settings.length === 0 && alarms.length === 0);
      const given = new Set((plain.length > 1 ? plain : older).filter((_, i) => i % 2 === 0));
      if (given.size === 0) return;
      this.#kept = this.#kept.filter((batch) => !given.has(batch));
      this.#listener.thinned([...given].reduce((sum, { readings }) => sum + readings, 0));
    }
  }
}
