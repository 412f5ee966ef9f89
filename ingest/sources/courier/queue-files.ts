/** The files of a queue: how segments are named, written so that they survive a loss of power, and found again. */
import {
  closeSync,
  fstatSync,
  fsyncSync,
  ftruncateSync,
  openSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';

/**
 * `000000000012.1.0.raw`: the 12th segment, written anew once (its places are other ones), thinned never.
 * raw: grows, or was left by a process that ended; pack: packed. Beside it `….sent`: places of records that were sent.
 */
export interface SegmentName {
  readonly id: number;
  readonly generation: number;
  readonly thinned: number;
  readonly form: 'raw' | 'pack';
}

/** One more than the place, little endian: 0 is what a loss of power leaves where nothing was written yet. */
const NOTE_BYTES = 4;
const NAME = /^(\d{12})\.(\d+)\.(\d+)\.(raw|pack)$/;

export const segmentFile = ({ id, generation, thinned, form }: SegmentName): string =>
  `${String(id).padStart(12, '0')}.${generation}.${thinned}.${form}`;
const sentFile = ({ id, generation }: SegmentName): string => `${String(id).padStart(12, '0')}.${generation}.sent`;

export interface QueueFiles {
  /** Oldest first; of one that was being written anew the newest that is whole. */
  find(): SegmentName[];
  read(name: SegmentName): Buffer;
  /** All or nothing: the file is there whole, or not at all. */
  write(name: SegmentName, bytes: Buffer): void;
  /** An empty file that is still there after a loss of power. @returns its path */
  create(name: SegmentName): string;
  /** With its notes of what was sent. */
  remove(name: SegmentName): void;
  /** Leaves the notes: they go on beside what it was written into. */
  removeOnly(name: SegmentName): void;
  /** Places of records that were sent; what is not said there is sent again. */
  readSent(name: SegmentName): readonly number[];
  /** Not waited for to reach the disk: what is lost of it is sent twice. */
  addSent(name: SegmentName, places: readonly number[]): void;
}

export function createQueueFiles(folder: string): QueueFiles {
  const path = (file: string): string => join(folder, file);
  const syncFolder = (): void => synced(openSync(folder, 'r'), () => undefined);
  const drop = (file: string): void => rmSync(path(file), { force: true });
  const remove = (name: SegmentName): void => {
    // The notes first: without their segment they would be taken for those of a later one of that name.
    drop(sentFile(name));
    drop(segmentFile(name));
  };
  return {
    find() {
      const best = new Map<number, SegmentName>();
      const files = readdirSync(folder);
      for (const file of files) {
        if (file.endsWith('.tmp')) drop(file);
        const name = nameOf(file);
        if (name === null) continue;
        const other = best.get(name.id);
        if (other === undefined) best.set(name.id, name);
        else {
          const [older, newer] = isNewer(name, other) ? [other, name] : [name, other];
          best.set(name.id, newer);
          drop(segmentFile(older));
          if (older.generation !== newer.generation) drop(sentFile(older));
        }
      }
      const found = [...best.values()].sort((a, b) => a.id - b.id);
      const notes = new Set(found.map(sentFile));
      for (const file of files) if (file.endsWith('.sent') && !notes.has(file)) drop(file);
      return found;
    },
    read: (name) => readFileSync(path(segmentFile(name))),
    write(name, bytes) {
      const file = path(segmentFile(name));
      try {
        synced(openSync(`${file}.tmp`, 'w', 0o600), (descriptor) => writeAll(descriptor, bytes));
        renameSync(`${file}.tmp`, file);
      } catch (error) {
        // On a full disk it would take the room of what comes next.
        drop(`${segmentFile(name)}.tmp`);
        throw error;
      }
      syncFolder();
    },
    create(name) {
      const file = path(segmentFile(name));
      drop(sentFile(name));
      synced(openSync(file, 'wx', 0o600), () => undefined);
      syncFolder();
      return file;
    },
    remove,
    removeOnly: (name) => drop(segmentFile(name)),
    readSent(name) {
      try {
        const bytes = readFileSync(path(sentFile(name)));
        const notes = Array.from({ length: Math.floor(bytes.length / NOTE_BYTES) }, (_, k) =>
          bytes.readUInt32LE(k * NOTE_BYTES),
        );
        return notes.filter((note) => note > 0).map((note) => note - 1);
      } catch {
        return [];
      }
    },
    addSent(name, places) {
      const bytes = Buffer.alloc(places.length * NOTE_BYTES);
      for (const [k, place] of places.entries()) bytes.writeUInt32LE(place + 1, k * NOTE_BYTES);
      const descriptor = openSync(path(sentFile(name)), 'a', 0o600);
      try {
        // A note that was cut off would shift all that come behind it.
        const torn = fstatSync(descriptor).size % NOTE_BYTES;
        if (torn > 0) ftruncateSync(descriptor, fstatSync(descriptor).size - torn);
        writeAll(descriptor, bytes);
      } finally {
        closeSync(descriptor);
      }
    },
  };
}

function nameOf(file: string): SegmentName | null {
  const [, id, generation, thinned, form] = NAME.exec(file) ?? [];
  if (id === undefined) return null;
  return {
    id: Number(id),
    generation: Number(generation),
    thinned: Number(thinned),
    form: form === 'raw' ? 'raw' : 'pack',
  };
}

/** Packed is written from raw, a later generation from an earlier one; each replaces what it was made from. */
const isNewer = (a: SegmentName, b: SegmentName): boolean =>
  a.generation === b.generation ? a.form === 'pack' : a.generation > b.generation;

/** A disk that is nearly full takes part of what it is given, and says so by a count. */
function writeAll(descriptor: number, bytes: Buffer): void {
  for (let at = 0; at < bytes.length; ) at += writeSync(descriptor, bytes, at);
}

function synced(descriptor: number, write: (descriptor: number) => unknown): void {
  try {
    write(descriptor);
    fsyncSync(descriptor);
  } finally {
    closeSync(descriptor);
  }
}
