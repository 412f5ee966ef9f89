/**
 * The queue of a courier: what was read lies on disk before anybody is told so, and until the server has it.
 *
 * Durable: an append resolves after `fdatasync`; appends that wait at the same time share one. What was sent is noted
 * without waiting for the disk, so after a crash the newest of it is sent again, and stored once.
 * Bounded: beyond its size the oldest segments are thinned, every second reading of each source, several times over;
 * where that is used up the oldest is given up. Both are said and counted.
 */

import { mkdirSync } from 'node:fs';
import { type FileHandle, open } from 'node:fs/promises';
import { HOUR_MS } from '../../vocabulary/time.ts';
import { createQueueFiles, type QueueFiles, type SegmentName } from './queue-files.ts';
import { Segment } from './segment.ts';
import { decodeRecords, encodeRecords, packRecords, type QueueRecord, unpackRecords } from './segment-codec.ts';
import { thinRecords } from './thin-records.ts';

export interface QueueCounts {
  /** Records that are not sent yet. */
  readonly waiting: number;
  readonly bytes: number;
  /** Readings that were given up since the process began because the queue was full. */
  readonly thinned: number;
  /** Records that could not be read again: their check fails. */
  readonly damaged: number;
}

/** Records on their way to the server. */
export interface PickedRecords {
  /** Oldest first. */
  readonly lines: readonly string[];
  readonly places: ReadonlyMap<Segment, readonly number[]>;
}

export interface QueueOptions {
  readonly maxBytes: number;
  /** A segment beyond it is packed, and the next one begun. */
  readonly segmentBytes?: number;
  say(line: string): void;
  nowMs(): number;
}

interface Waiting {
  readonly records: readonly QueueRecord[];
  resolve(): void;
  reject(error: unknown): void;
}

const SEGMENT_BYTES = 1024 * 1024;
/** 1/64: of a reading each ten seconds one is left in eleven minutes. Beyond it an hour tells next to nothing. */
const MOST_THINNED = 6;
/** Stands in the place of a record that could not be read again; it is never sent. */
const LOST: QueueRecord = ['-'];
/** Packed segments whose records are held in memory. */
const HELD_SEGMENTS = 2;

export class DiskQueue {
  readonly #files: QueueFiles;
  readonly #options: QueueOptions;
  /** Oldest first; the last is the growing one. */
  readonly #segments: Segment[] = [];
  #growing: { readonly segment: Segment; readonly handle: FileHandle; readonly sinceMs: number } | null = null;
  #waiting: Waiting[] = [];
  #writing: Promise<void> = Promise.resolve();
  #isWriting = false;
  #nextId = 1;
  #thinned = 0;
  #damaged = 0;
  readonly #listeners = new Set<() => void>();

  /** @throws what the disk says */
  constructor(folder: string, options: QueueOptions) {
    mkdirSync(folder, { recursive: true });
    this.#files = createQueueFiles(folder);
    this.#options = options;
    for (const name of this.#files.find()) {
      this.#nextId = name.id + 1;
      this.#adopt(name);
    }
  }

  /** Resolves once the records are on disk. @throws where they can't be written: then none of them counts as read */
  append(records: readonly QueueRecord[]): Promise<void> {
    if (records.length === 0) return Promise.resolve();
    return new Promise((resolve, reject) => {
      this.#waiting.push({ records, resolve, reject });
      if (!this.#isWriting) this.#writing = this.#writeAll();
    });
  }

  /** The newest records that are neither sent nor on their way; null where there are none. */
  pick(mostLines: number): PickedRecords | null {
    const places = new Map<Segment, number[]>();
    const lines: string[] = [];
    for (let k = this.#segments.length - 1; k >= 0 && lines.length < mostLines; k--) {
      const segment = this.#segments[k]!;
      if (segment.waiting === 0) continue;
      const own: number[] = [];
      for (const [place, record] of this.#newestOf(segment)) {
        own.unshift(place);
        lines.unshift(...record);
        if (lines.length >= mostLines) break;
      }
      if (own.length > 0) places.set(segment, own);
      segment.take(own);
    }
    this.#letGo();
    return places.size === 0 ? null : { lines, places };
  }

  /** The server has them. */
  sent({ places }: PickedRecords): void {
    for (const [segment, own] of places) {
      this.#note(segment.name, own);
      segment.sent(own);
      if (segment.isDone && segment !== this.#growing?.segment) this.#remove(segment);
    }
  }

  /** A note that can't be written costs a second sending after a restart, no more. */
  #note(name: SegmentName, places: readonly number[]): void {
    try {
      this.#files.addSent(name, places);
    } catch (error) {
      this.#options.say(
        `the queue: what was sent could not be noted: ${error instanceof Error ? error.message : String(error)}`,
      );
    }
  }

  /** The server does not have them: they are picked again. */
  release({ places }: PickedRecords): void {
    for (const [segment, own] of places) segment.release(own);
  }

  counts(): QueueCounts {
    return {
      waiting: this.#segments.reduce((sum, { unsent }) => sum + unsent, 0),
      bytes: this.#segments.reduce((sum, { bytes }) => sum + bytes, 0),
      thinned: this.#thinned,
      damaged: this.#damaged,
    };
  }

  /** Calls back after each append until the returned function is called. */
  onAppend(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  async close(): Promise<void> {
    await this.#writing;
    await this.#growing?.handle.close();
    this.#growing = null;
  }

  /** A segment that an earlier process left. */
  #adopt(name: SegmentName): void {
    const bytes = this.#files.read(name);
    const segment = new Segment(name, bytes.length);
    const records = recordsIn(name, bytes);
    if (records === null) {
      this.#damaged++;
      this.#options.say(`the queue: segment ${name.id} is damaged and can't be read; it is left where it is`);
      return;
    }
    const lost = records.flatMap((one, place) => (one === null ? [place] : []));
    if (lost.length > 0) this.#note(name, lost);
    segment.begin(records.length, this.#files.readSent(name), lost);
    this.#damaged += lost.length;
    if (segment.isDone) {
      this.#files.remove(name);
      return;
    }
    this.#segments.push(segment);
    if (name.form === 'raw')
      this.#pack(
        segment,
        records.map((one) => one ?? LOST),
      );
    segment.letGo();
  }

  *#newestOf(segment: Segment): Generator<readonly [number, QueueRecord]> {
    const records = segment.records ?? this.#load(segment);
    for (let place = records.length - 1; place >= 0; place--)
      if (segment.isWaiting(place)) yield [place, records[place]!];
  }

  #load(segment: Segment): readonly QueueRecord[] {
    const records = recordsIn(segment.name, this.#files.read(segment.name));
    if (records !== null) return segment.hold(records.map((one) => one ?? LOST));
    this.#damaged += segment.unsent;
    this.#options.say(`the queue: segment ${segment.name.id} is damaged and can't be read; it is left where it is`);
    this.#segments.splice(this.#segments.indexOf(segment), 1);
    return [];
  }

  /** Records of packed segments are held only while they are being sent. */
  #letGo(): void {
    const held = this.#segments.filter((one) => one !== this.#growing?.segment && one.records !== null);
    for (const one of held.slice(0, Math.max(0, held.length - HELD_SEGMENTS))) one.letGo();
  }

  async #writeAll(): Promise<void> {
    this.#isWriting = true;
    // What is appended in the same turn shares one sync.
    await Promise.resolve();
    while (this.#waiting.length > 0) {
      const batch = this.#waiting;
      this.#waiting = [];
      try {
        await this.#write(batch.flatMap(({ records }) => records));
        for (const { resolve } of batch) resolve();
        for (const listener of this.#listeners) listener();
      } catch (error) {
        for (const { reject } of batch) reject(error);
      }
    }
    this.#isWriting = false;
  }

  async #write(records: readonly QueueRecord[]): Promise<void> {
    const { segment, handle } = await this.#room();
    const bytes = encodeRecords(records);
    try {
      for (let at = 0; at < bytes.length; ) {
        const { bytesWritten } = await handle.write(bytes, at, bytes.length - at, segment.bytes + at);
        at += bytesWritten;
      }
      await handle.datasync();
    } catch (error) {
      await this.#giveUpTail(segment, handle);
      throw error;
    }
    segment.grow(records, bytes.length);
  }

  /** After a write that failed nobody knows what is on disk behind the last good record: it is cut off. */
  async #giveUpTail(segment: Segment, handle: FileHandle): Promise<void> {
    this.#growing = null;
    await handle.truncate(segment.bytes).catch(() => undefined);
    await handle.close().catch(() => undefined);
    if (segment.isDone) this.#remove(segment);
  }

  /** The growing segment, where there is room in it; else the next one. */
  async #room(): Promise<{ readonly segment: Segment; readonly handle: FileHandle }> {
    const now = this.#options.nowMs();
    const growing = this.#growing;
    if (growing !== null) {
      const isFull = growing.segment.bytes >= (this.#options.segmentBytes ?? SEGMENT_BYTES);
      if (!isFull && Math.abs(now - growing.sinceMs) < HOUR_MS) return growing;
      this.#growing = null;
      try {
        // In one turn: what is picked or sent meanwhile must not find it half packed.
        if (growing.segment.isDone) this.#remove(growing.segment);
        else this.#pack(growing.segment, growing.segment.records ?? this.#load(growing.segment));
      } finally {
        await growing.handle.close();
      }
    }
    this.#makeRoom();
    const name: SegmentName = { id: this.#nextId++, generation: 0, thinned: 0, form: 'raw' };
    const handle = await open(this.#files.create(name), 'r+');
    const segment = new Segment(name, 0);
    segment.begin(0, [], []);
    segment.hold([]);
    this.#segments.push(segment);
    this.#growing = { segment, handle, sinceMs: now };
    return this.#growing;
  }

  #pack(segment: Segment, records: readonly QueueRecord[]): void {
    const before = segment.name;
    const name: SegmentName = { ...before, form: 'pack' };
    const packed = packRecords(records);
    this.#files.write(name, packed);
    segment.became(name, packed.length);
    // The notes of what was sent go on: the places are the same.
    this.#files.removeOnly(before);
  }

  #remove(segment: Segment): void {
    const at = this.#segments.indexOf(segment);
    if (at >= 0) this.#segments.splice(at, 1);
    this.#files.remove(segment.name);
  }

  #makeRoom(): void {
    const isFull = (): boolean =>
      this.counts().bytes > this.#options.maxBytes - (this.#options.segmentBytes ?? SEGMENT_BYTES);
    let dropped = 0;
    while (isFull()) {
      const free = this.#segments.filter((one) => !one.isOnItsWay);
      const segment = free.find(({ name }) => name.thinned < MOST_THINNED);
      if (segment !== undefined) dropped += this.#thin(segment);
      else if (free[0] !== undefined) {
        const lines = this.#unsentOf(free[0]).reduce((sum, record) => sum + record.length, 0);
        dropped += lines;
        this.#remove(free[0]);
      } else break;
    }
    if (dropped === 0) return;
    this.#thinned += dropped;
    this.#options.say(
      `the queue is full: ${dropped} of the oldest readings were given up, ${this.#thinned} since the courier began; give queue.max_mb more, or mend the link`,
    );
  }

  #unsentOf(segment: Segment): QueueRecord[] {
    const records = segment.records ?? this.#load(segment);
    return records.filter((_, place) => segment.isWaiting(place));
  }

  /** @returns how many readings were given up */
  #thin(segment: Segment): number {
    const before = segment.name;
    const { records, dropped } = thinRecords(this.#unsentOf(segment));
    const name = { ...before, generation: before.generation + 1, thinned: before.thinned + 1 };
    const packed = packRecords(records);
    this.#files.write(name, packed);
    segment.became(name, packed.length);
    segment.begin(records.length, [], []);
    segment.letGo();
    this.#files.remove(before);
    if (records.length === 0) this.#remove(segment);
    return dropped;
  }
}

const recordsIn = ({ form }: SegmentName, bytes: Buffer): readonly (QueueRecord | null)[] | null =>
  form === 'raw' ? decodeRecords(bytes).records : unpackRecords(bytes);
