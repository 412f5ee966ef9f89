/**
 * A folder whose log files appear and grow: reads what is new by byte offset, leaves a half-written last line alone,
 * starts again where a file was rotated. How far it came stands in the transaction that stores what it read.
 */
import { createHash } from 'node:crypto';
import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { createIntake, type IntakeStore } from '../intake/intake.ts';
import type { ReadingBatch } from '../vocabulary/reading.ts';
import { sayRefusal } from '../vocabulary/refusal.ts';
import { createNdjsonDecoder } from '../wire/ndjson.ts';
import { importFiles } from './import-files.ts';
import { findLogFiles, type LogFile } from './log-files.ts';

export interface FollowedFolder {
  readonly path: string;
  /** A column map for CSV of another form. */
  readonly columns: { readonly text: string; readonly file: string } | null;
}

export interface FollowListener {
  /** A line, file or folder that was not taken, once. */
  refused(text: string): void;
}

/** Read at once: a file that grew by gigabytes is taken in pieces of it. */
const PIECE_BYTES = 1024 * 1024;
/** A line that is longer and has no end is no reading: it is waited for no more. */
const LINE_MAX_BYTES = 4 * 1024 * 1024;
/** Gathered readings beyond it are stored. */
const PENDING_MAX_BYTES = 24 * 1024 * 1024;
const NEWLINE = 10;

/** The last bytes before the place are remembered by their hash: a file that was cut and written anew has others there. */
const TAIL_BYTES = 64;

type ImportRows = ReturnType<IntakeStore['importProgress']>;

/** How far a growing file is read. */
interface Place {
  readonly inode: number;
  readonly offset: number;
  readonly tail: string;
}

export interface FolderFollower {
  /** Takes what is new; @returns how many bytes of logs were new. */
  look(isStopped: () => boolean): Promise<number>;
}

/** @param folder its progress is kept under its path */
export function followFolder(store: IntakeStore, folder: FollowedFolder, listener: FollowListener): FolderFollower {
  const rows = store.importProgress(`follow ${folder.path}`);
  /** Identity of files that are taken whole, at the look before: taken only once they rest. */
  const seen = new Map<string, string>();
  /** Growing files as they were at the look before: what did not change is not opened. */
  const looked = new Map<string, string>();
  const said = new Set<string>();
  const sayOnce = (text: string): void => {
    if (said.has(text)) return;
    said.add(text);
    listener.refused(text);
  };
  const takeWhole = async (file: LogFile): Promise<number> => {
    const row = rows.file(file.path);
    if (row?.identity === file.identity && row.done) return 0;
    const isResting = seen.get(file.path) === file.identity;
    seen.set(file.path, file.identity);
    if (!isResting) return 0;
    await importFiles(
      store,
      { files: [file], columns: folder.columns, pendingMaxBytes: PENDING_MAX_BYTES },
      { refused: (refusal) => sayOnce(sayRefusal(refusal)), note: () => undefined, progress: () => undefined },
    );
    store.transaction(() => rows.put(file.path, file.identity, 1, true));
    return file.bytes;
  };
  return {
    async look(isStopped) {
      let bytes = 0;
      const found = findLogFiles([folder.path]);
      for (const refusal of found.refusals) sayOnce(sayRefusal(refusal));
      for (const file of found.files) {
        if (isStopped()) break;
        if (file.format === 'ndjson' && file.packing === 'none') {
          if (looked.get(file.path) === file.identity) continue;
          bytes += takeGrown(store, rows, file, listener);
          looked.set(file.path, file.identity);
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
function takeGrown(store: IntakeStore, rows: ImportRows, file: LogFile, listener: FollowListener): number {
  const row = rows.file(file.path);
  const known = placeOf(row?.identity);
  const descriptor = openSync(file.path, 'r');
  const decoder = createNdjsonDecoder();
  try {
    const { ino, size } = fstatSync(descriptor);
    // Another file under the name, or one that was cut: what is there is read from its start, and stored once.
    const isSame =
      known !== null && known.inode === ino && known.offset <= size && tailAt(descriptor, known.offset) === known.tail;
    let offset = isSame ? known.offset : 0;
    let line = isSame ? row!.line : 1;
    const from = offset;
    const put = (next: number, nextLine: number): void =>
      rows.put(file.path, `inode ${ino} offset ${next} tail ${tailAt(descriptor, next)}`, nextLine, false);
    if (!isSame && size === 0) store.transaction(() => put(0, 1));
    for (
      let bytes = wholeLines(descriptor, offset, size);
      bytes !== null;
      bytes = wholeLines(descriptor, offset, size)
    ) {
      const next = offset + bytes.length;
      line = storePiece(
        store,
        decoder.decode(bytes, line),
        bytes,
        { path: file.path, line },
        rows,
        listener,
        (nextLine) => put(next, nextLine),
      );
      offset = next;
    }
    return offset - from;
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

/** @returns the number of the line that comes next */
function storePiece(
  store: IntakeStore,
  batch: ReadingBatch,
  bytes: Uint8Array,
  { path, line }: { readonly path: string; readonly line: number },
  rows: ImportRows,
  listener: FollowListener,
  put: (nextLine: number) => void,
): number {
  const intake = createIntake(store);
  let next = line;
  for (const byte of bytes) if (byte === NEWLINE) next++;
  intake.take(batch);
  intake.flush(() => {
    put(next);
    for (const refused of batch.refused) rows.addRefusal(path, refused.line, refused.what, refused.remedy);
  });
  for (const { line: at, what, remedy } of batch.refused)
    listener.refused(sayRefusal({ where: `${path}, line ${at}`, what, remedy }));
  return next;
}
