const BLOCK_BYTES = 128 * 1024;

/**
 * A zstd frame that holds its bytes as they are, in raw blocks: no compressor is needed to make one.
 *
 * @see RFC 8878, sections 3.1.1.1 and 3.1.1.2
 */
export function zstdStored(bytes: Uint8Array): Buffer {
  // No single segment, no checksum, no content size; a window of 1 MB (exponent 10).
  const parts: Uint8Array[] = [Buffer.from([0x28, 0xb5, 0x2f, 0xfd, 0x00, 10 << 3])];
  const count = Math.max(1, Math.ceil(bytes.length / BLOCK_BYTES));
  for (let n = 0; n < count; n++) {
    const block = bytes.subarray(n * BLOCK_BYTES, (n + 1) * BLOCK_BYTES);
    const head = (block.length << 3) | (n === count - 1 ? 1 : 0);
    parts.push(Buffer.from([head & 0xff, (head >> 8) & 0xff, head >> 16]), block);
  }
  return Buffer.concat(parts);
}

/** A zstd frame of one repeated byte: four bytes stand for 128 kB. */
export function zstdRepeated(byte: number, blocks: number): Buffer {
  const parts = [Buffer.from([0x28, 0xb5, 0x2f, 0xfd, 0x00, 10 << 3])];
  for (let n = 0; n < blocks; n++) {
    const head = (BLOCK_BYTES << 3) | (1 << 1) | (n === blocks - 1 ? 1 : 0);
    parts.push(Buffer.from([head & 0xff, (head >> 8) & 0xff, head >> 16, byte]));
  }
  return Buffer.concat(parts);
}
