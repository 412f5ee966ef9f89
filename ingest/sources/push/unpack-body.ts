/** The bytes of a pushed body, unpacked and held whole: a limit on both sides, and a word for each thing that can be wrong. */
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGunzip } from 'node:zlib';
import { Decompress } from 'fzstd';

export type Packing = 'none' | 'gzip' | 'zstd';

/** `large`: beyond the limit. `damaged`: what packs it is broken or ends early. `cut`: it did not arrive whole. */
export type Unpacked = { readonly bytes: Uint8Array } | { readonly failed: 'large' | 'damaged' | 'cut' };

/** What comes of a packed kilobyte may be megabytes: the limit is looked at after each. */
const ZSTD_BITE_BYTES = 1024;

class TooLarge extends Error {}
class Damaged extends Error {}

/** @param packing of the header `Content-Encoding`; null where it is none that is read */
export function packingOf(header: string | undefined): Packing | null {
  const name = (header ?? 'identity').trim().toLowerCase();
  if (name === 'identity' || name === '') return 'none';
  if (name === 'gzip' || name === 'x-gzip') return 'gzip';
  return name === 'zstd' ? 'zstd' : null;
}

export async function unpackBody(
  body: AsyncIterable<Uint8Array>,
  packing: Packing,
  maxBytes: number,
): Promise<Unpacked> {
  const pieces: Uint8Array[] = [];
  let length = 0;
  // Streams between here and there report another error for it, so it is remembered.
  let isLarge = false;
  const tooLarge = (): TooLarge => {
    isLarge = true;
    return new TooLarge();
  };
  const keep = (piece: Uint8Array): void => {
    length += piece.length;
    if (length > maxBytes) throw tooLarge();
    pieces.push(piece);
  };
  try {
    const sent = limited(body, maxBytes, tooLarge);
    if (packing === 'none') for await (const piece of sent) keep(piece);
    else if (packing === 'gzip') await gunzip(sent, keep);
    else await unzstd(sent, keep);
  } catch (error) {
    if (isLarge) return { failed: 'large' };
    return { failed: error instanceof Damaged ? 'damaged' : 'cut' };
  }
  return { bytes: Buffer.concat(pieces, length) };
}

async function* limited(
  body: AsyncIterable<Uint8Array>,
  maxBytes: number,
  tooLarge: () => Error,
): AsyncGenerator<Uint8Array> {
  let length = 0;
  for await (const piece of body) {
    length += piece.length;
    if (length > maxBytes) throw tooLarge();
    yield piece;
  }
}

async function gunzip(sent: AsyncIterable<Uint8Array>, keep: (piece: Uint8Array) => void): Promise<void> {
  const unpack = createGunzip();
  let isPackingWrong = false;
  unpack.once('error', (error: NodeJS.ErrnoException) => {
    isPackingWrong = /^Z_/.test(error.code ?? '');
  });
  try {
    await pipeline(Readable.from(sent), unpack, async (out: AsyncIterable<Uint8Array>) => {
      for await (const piece of out) keep(piece);
    });
  } catch (error) {
    throw isPackingWrong ? new Damaged() : error;
  }
}

async function unzstd(sent: AsyncIterable<Uint8Array>, keep: (piece: Uint8Array) => void): Promise<void> {
  const unpack = new Decompress((piece) => keep(piece.slice()));
  const push = (bytes: Uint8Array, isEnd: boolean): void => {
    try {
      unpack.push(bytes, isEnd);
    } catch (error) {
      throw error instanceof TooLarge ? error : new Damaged();
    }
  };
  let isEmpty = true;
  for await (const piece of sent) {
    for (let at = 0; at < piece.length; at += ZSTD_BITE_BYTES) push(piece.subarray(at, at + ZSTD_BITE_BYTES), false);
    isEmpty &&= piece.length === 0;
  }
  if (isEmpty) throw new Damaged();
  push(new Uint8Array(0), true);
}
