/**
 * A folder whose log files appear and grow: reads what is new by byte offset, leaves a half-written last line alone,
 * starts again where a file was rotated. How far it came is written once what it read is durable: after a crash at most
 * the same lines are read again, and they are stored once.
 */
import { createHash } from 'node:crypto';
import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import type { LiveDoor } from '../intake/live-door.ts';
import type { ReadingBatch, RefusedLine } from '../vocabulary/reading.ts';
import { type Refusal, sayRefusal } from '../vocabulary/refusal.ts';
import { createNdjsonDecoder } from '../wire/ndjson.ts';
import { findLogFiles, type LogFile } from './log-files.ts';

export interface FollowedFolder {
  readonly path: string;
  /** A column map for CSV of another form. */
  readonly columns: { readonly text: string; readonly file: string } | null;
}

export interface FollowListener {
  /** A line, file or folder that was not taken, once. */
  refused(refusal: Refusal): void;
  stored(batch: ReadingBatch): void;
}

/** How far the files of one folder are read. */
export interface FolderPlaces {
  file(path: string): { readonly identity: string; readonly line: number; readonly done: boolean } | null;
  put(path: string, at: { readonly identity: string; readonly line: number; readonly done: boolean }): void;
  /** Lines of a file that were not taken. */
  refused(path: string, lines: readonly RefusedLine[]): void;
}

/** What a follower stands on: a store or a courier's queue. */
export interface FollowHouse {
  readonly door: LiveDoor;
  readonly places: FolderPlaces;
  /** Takes a file that is packed or CSV from its start to its end. */
  takeWhole(file: LogFile, folder: FollowedFolder, listener: FollowListener): Promise<void>;
}

/** Read at once: a file that grew by gigabytes is taken in pieces of it. */
const PIECE_BYTES = 1024 * 1024;
/** A line that is longer and has no end is no reading: it is waited for no more. */
const LINE_MAX_BYTES = 4 * 1024 * 1024;
const NEWLINE = 10;

/** The last bytes before the place are remembered by their hash: a file that was cut and written anew has others there. */
const TAIL_BYTES = 64;

/** How far a growing file is read. */
interface Place {
  readonly inode: number;
  readonly offset: number;
  readonly tail: string;
}

export interface FolderFollower {
  /** Takes what is new; @returns how many bytes of logs were new. @throws where it can't be stored */
  look(isStopped: () => boolean): Promise<number>;
}

export function followFolder(house: FollowHouse, folder: FollowedFolder, listener: FollowListener): FolderFollower {
  const { places } = house;
  /** Identity of files that are taken whole, at the look before: taken only once they rest. */
  const seen = new Map<string, string>();
  /** Growing files as they were at the look before: what did not change is not opened. */
  const looked = new Map<string, string>();
  const said = new Set<string>();
  const once: FollowListener = {
    ...listener,
    refused(refusal) {
      const text = sayRefusal(refusal);
      if (said.has(text)) return;
      said.add(text);
      listener.refused(refusal);
    },
  };
  const takeWhole = async (file: LogFile): Promise<number> => {
    const known = places.file(file.path);
    if (known?.identity === file.identity && known.done) return 0;
    const isResting = seen.get(file.path) === file.identity;
    seen.set(file.path, file.identity);
    if (!isResting) return 0;
    await house.takeWhole(file, folder, once);
    places.put(file.path, { identity: file.identity, line: 1, done: true });
    return file.bytes;
  };
  return {
    async look(isStopped) {
      let bytes = 0;
      const found = findLogFiles([folder.path]);
      for (const refusal of found.refusals) once.refused(refusal);
      for (const file of found.files) {
        if (isStopped()) break;
        if (file.format === 'ndjson' && file.packing === 'none') {
          if (looked.get(file.path) === file.identity) continue;
          const taken = await takeGrown(house, file, listener, isStopped);
          bytes += taken.bytes;
          if (taken.isWhole) looked.set(file.path, file.identity);
        } else bytes += await takeWhole(file);
      }
      return bytes;
    },
  };
}

function placeOf(identity: string | undefined): Place | null {
  const [, inode, offset, tail] = /^inode (\d+) offset (\d+) tail ([0-9a-f]+)$/.exec(identity ?? '') ?? [];
  return inode === undefined || offset === undefined || tail === undefined
    ? null
    : { inode: Number(inode), offset: Number(offset), tail };
}

function tailAt(descriptor: number, offset: number): string {
  const length = Math.min(TAIL_BYTES, offset);
  const buffer = new Uint8Array(length);
  const read = readSync(descriptor, buffer, 0, length, offset - length);
  return createHash('sha256').update(buffer.subarray(0, read)).digest('hex').slice(0, 16);
}

/** Reads the whole lines that were added to a file since the last look. */
async function takeGrown(
  { door, places }: FollowHouse,
  file: LogFile,
  listener: FollowListener,
  isStopped: () => boolean,
): Promise<{ readonly bytes: number; readonly isWhole: boolean }> {
  const known = places.file(file.path);
  const place = placeOf(known?.identity);
  const descriptor = openSync(file.path, 'r');
  const decoder = createNdjsonDecoder();
  try {
    const { ino, size } = fstatSync(descriptor);
    // Another file under the name, or one that was cut: what is there is read from its start, and stored once.
    const isSame =
      place !== null && place.inode === ino && place.offset <= size && tailAt(descriptor, place.offset) === place.tail;
    const from = isSame ? place.offset : 0;
    let offset = from;
    let line = isSame ? known!.line : 1;
    const put = (): void =>
      places.put(file.path, {
        identity: `inode ${ino} offset ${offset} tail ${tailAt(descriptor, offset)}`,
        line,
        done: false,
      });
    if (!isSame && size === 0) put();
    while (!isStopped()) {
      const bytes = wholeLines(descriptor, offset, size);
      if (bytes === null) return { bytes: offset - from, isWhole: true };
      const batch = decoder.decode(bytes, line);
      await door.store(batch);
      offset += bytes.length;
      for (const byte of bytes) if (byte === NEWLINE) line++;
      places.refused(file.path, batch.refused);
      put();
      for (const { line: at, what, remedy } of batch.refused)
        listener.refused({ where: `${file.path}, line ${at}`, what, remedy });
      listener.stored(batch);
    }
    return { bytes: offset - from, isWhole: false };
  } finally {
    closeSync(descriptor);
  }
}

/** The next piece that ends with a line's end; null where there is none yet. */
function wholeLines(descriptor: number, offset: number, size: number): Uint8Array | null {
  for (let length = PIECE_BYTES; ; length *= 2) {
    const wanted = Math.min(length, size - offset);
    const buffer = new Uint8Array(wanted);
    const read = readSync(descriptor, buffer, 0, wanted, offset);
    const end = buffer.subarray(0, read).lastIndexOf(NEWLINE);
    if (end >= 0) return buffer.subarray(0, end + 1);
    if (read < length) return null;
    if (length >= LINE_MAX_BYTES) return buffer.subarray(0, read);
  }
}
