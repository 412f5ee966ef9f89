/** What is known of one segment of the queue: how much of it is sent, and its records while they are held. */
import type { SegmentName } from './queue-files.ts';
import type { QueueRecord } from './segment-codec.ts';

const WAITING = 0;
const ON_ITS_WAY = 1;
const SENT = 2;

export class Segment {
  #name: SegmentName;
  #bytes: number;
  /** By place of the record. */
  #states: Uint8Array = new Uint8Array(0);
  #count = 0;
  #waiting = 0;
  #onItsWay = 0;
  #records: QueueRecord[] | null = null;

  constructor(name: SegmentName, bytes: number) {
    this.#name = name;
    this.#bytes = bytes;
  }

  get name(): SegmentName {
    return this.#name;
  }
  /** On disk. */
  get bytes(): number {
    return this.#bytes;
  }
  /** Records that may be picked. */
  get waiting(): number {
    return this.#waiting;
  }
  /** Records that the server does not have. */
  get unsent(): number {
    return this.#waiting + this.#onItsWay;
  }
  get isOnItsWay(): boolean {
    return this.#onItsWay > 0;
  }
  get isDone(): boolean {
    return this.unsent === 0;
  }
  /** null while they are not held. */
  get records(): readonly QueueRecord[] | null {
    return this.#records;
  }

  /** @param lost places of records that can't be read: they count as sent */
  begin(count: number, sent: readonly number[], lost: readonly number[]): void {
    this.#states = new Uint8Array(count);
    this.#count = count;
    for (const place of [...sent, ...lost]) if (place < count) this.#states[place] = SENT;
    this.#waiting = this.#states.reduce((sum, state) => sum + (state === WAITING ? 1 : 0), 0);
    this.#onItsWay = 0;
  }

  grow(records: readonly QueueRecord[], bytes: number): void {
    const count = this.#count + records.length;
    if (count > this.#states.length) {
      const longer = new Uint8Array(Math.max(count, this.#states.length * 2, 256));
      longer.set(this.#states);
      this.#states = longer;
    }
    this.#count = count;
    this.#records?.push(...records);
    this.#waiting += records.length;
    this.#bytes += bytes;
  }

  /** It was written anew. */
  became(name: SegmentName, bytes: number): void {
    this.#name = name;
    this.#bytes = bytes;
  }

  hold(records: readonly QueueRecord[]): readonly QueueRecord[] {
    this.#records = [...records];
    return this.#records;
  }

  letGo(): void {
    this.#records = null;
  }

  isWaiting(place: number): boolean {
    return place < this.#count && this.#states[place] === WAITING;
  }

  take(places: readonly number[]): void {
    for (const place of places) this.#states[place] = ON_ITS_WAY;
    this.#waiting -= places.length;
    this.#onItsWay += places.length;
  }

  release(places: readonly number[]): void {
    for (const place of places) this.#states[place] = WAITING;
    this.#waiting += places.length;
    this.#onItsWay -= places.length;
  }

  sent(places: readonly number[]): void {
    for (const place of places) this.#states[place] = SENT;
    this.#onItsWay -= places.length;
  }
}
