/** The bytes of a log file, unpacked, in pieces; memory stays flat for a file of any size. */
import { createReadStream } from 'node:fs';
import { type Readable, Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGunzip, type Gunzip } from 'node:zlib';
import { Decompress } from 'fzstd';
import type { LogFile } from './log-files.ts';

/** With the line that is held over, a piece stays under the longest line that is taken, so that it is cut in one look. */
const PIECE_BYTES = 512 * 1024;
/** Packed gzip bytes that are unpacked at once, where the file is sound to its end … */
const GZIP_BITE_BYTES = 64 * 1024;
/** … and where it is not: what a bite gives is lost where there is something else in it, so it is small. */
const GZIP_BITE_UNSOUND_BYTES = 4096;
/**
 * Packed zstd bytes that are unpacked at once. All that comes of them is held, and a block of 128 kB of one repeated
 * byte takes four, so a small file can stand for gigabytes.
 */
const ZSTD_BITE_BYTES = 1024;
/** A header that asks for a larger window is no log of ours, and would fill the memory. zstd's own default limit. */
const ZSTD_WINDOW_MAX = 128 * 1024 * 1024;

/**
 * @param onRead called with the bytes of the file, packed as they are, that have been read so far
 * @returns pieces that nobody else holds, so that they may be handed to another thread
 * @throws what the disk or the unpacker says, with a code where it has one
 */
export async function* fileBytes(file: LogFile, onRead: (bytes: number) => void): AsyncGenerator<Uint8Array> {
  const isSound = file.packing === 'gzip' && (await isSoundGzip(file.path));
  const stream = createReadStream(file.path, { highWaterMark: PIECE_BYTES });
  let read = 0;
  stream.on('data', (piece) => {
    read += piece.length;
    onRead(read);
  });
  stream.pause();
  try {
    if (file.packing === 'zstd') yield* unzstd(stream);
    else if (file.packing === 'gzip') yield* gunzip(stream, isSound ? GZIP_BITE_BYTES : GZIP_BITE_UNSOUND_BYTES);
    else for await (const piece of stream) yield new Uint8Array(piece as Buffer);
  } finally {
    stream.destroy();
  }
}

/** What a member begins with was none: behind the last one, where some loggers leave what they had in memory. */
const NOT_A_MEMBER = 'incorrect header check';

/**
 * Unpacks it once to its check sums, before anything of it is taken: a byte that was damaged most often still unpacks,
 * to readings that nobody measured. A file that only ends too early is true as far as it goes.
 *
 * @returns false where it ends too early, or where something else stands behind it
 * @throws what the unpacker says, where what was packed is not what comes out
 */
async function isSoundGzip(path: string): Promise<boolean> {
  try {
    await pipeline(
      createReadStream(path, { highWaterMark: PIECE_BYTES }),
      createGunzip({ chunkSize: PIECE_BYTES }),
      new Writable({ write: (_piece, _encoding, done) => done() }),
    );
    return true;
  } catch (error) {
    const { code, message } = error as { readonly code?: unknown; readonly message?: unknown };
    if (code === 'Z_DATA_ERROR' && message !== NOT_A_MEMBER) throw error;
    return false;
  }
}

/**
 * Nothing more is written to the unpacker before all that it gave was taken: where the data are damaged it drops what
 * it still holds, and how many lines come before the damage must not depend on who was faster.
 */
async function* gunzip(stream: Readable, biteBytes: number): AsyncGenerator<Uint8Array> {
  const unpack = createGunzip({ chunkSize: PIECE_BYTES });
  try {
    for await (const piece of stream) {
      const bytes = piece as Buffer;
      for (let at = 0; at < bytes.length; at += biteBytes) {
        const bite = bytes.subarray(at, at + biteBytes);
        yield* drained(unpack, (done) => unpack.write(bite, done));
      }
    }
    // The end of the writing side comes before the check of the last bytes; only the end of what comes out is after it.
    yield* drained(unpack, (done) => {
      if (unpack.readableEnded) done();
      else unpack.once('end', done).end();
    });
  } finally {
    unpack.destroy();
  }
}

/** All that one step of an unpacker gives. @throws what it says of the data */
async function* drained(unpack: Gunzip, start: (done: () => void) => void): AsyncGenerator<Uint8Array> {
  let isDone = false;
  let wake = (): void => undefined;
  const onChange = (): void => wake();
  unpack.on('readable', onChange).on('error', onChange);
  start(() => {
    isDone = true;
    wake();
  });
  try {
    for (;;) {
      const changed = new Promise<void>((resolve) => {
        wake = resolve;
      });
      for (let out = unpack.read(); out !== null; out = unpack.read()) yield new Uint8Array(out as Buffer);
      if (unpack.errored !== null) throw unpack.errored;
      if (isDone && unpack.readableLength === 0) return;
      await changed;
    }
  } finally {
    unpack.off('readable', onChange).off('error', onChange);
  }
}

async function* unzstd(stream: Readable): AsyncGenerator<Uint8Array> {
  let out: Uint8Array[] = [];
  const unpack = new Decompress((piece) => {
    out.push(piece.slice());
  });
  const push = (bytes: Uint8Array, isEnd: boolean): Uint8Array[] => {
    out = [];
    try {
      unpack.push(bytes, isEnd);
    } catch (error) {
      throw zstdError(error instanceof Error ? error.message : String(error));
    }
    return out;
  };
  let isFirst = true;
  for await (const piece of stream) {
    const bytes = new Uint8Array(piece as Buffer);
    if (isFirst) refuseHugeWindow(bytes);
    isFirst = false;
    for (let at = 0; at < bytes.length; at += ZSTD_BITE_BYTES)
      yield* push(bytes.subarray(at, at + ZSTD_BITE_BYTES), false);
  }
  if (isFirst) throw zstdError('no bytes');
  yield* push(new Uint8Array(0), true);
}

const zstdError = (what: string): Error =>
  Object.assign(new Error(`its zstd data are damaged or end too early (${what})`), { code: 'ZSTD' });

/** @see RFC 8878, section 3.1.1.1.2 */
function refuseHugeWindow(bytes: Uint8Array): void {
  const descriptor = bytes[4] ?? 0;
  const isSingleSegment = (descriptor & 0x20) !== 0;
  if (isSingleSegment || bytes.length < 6) return;
  const window = bytes[5]!;
  const base = 2 ** (10 + (window >> 3));
  const size = base + (base / 8) * (window & 7);
  if (size > ZSTD_WINDOW_MAX) throw zstdError(`window of ${size} bytes`);
}
