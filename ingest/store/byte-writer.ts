/** A growing byte buffer and its reader: variable-length integers, as the block format needs them. */

export interface ByteWriter {
  byte(value: number): void;
  /** A whole number from 0 to 2^53 − 1, seven bits a byte, lowest first. */
  varint(value: number): void;
  /** Any safe integer: zigzag, then varint. */
  signed(value: number): void;
  bytes(value: Uint8Array): void;
  readonly length: number;
  /** A copy of what was written. */
  take(): Uint8Array;
  reset(): void;
}

/** A writer that starts with room for `capacity` bytes. */
export function createByteWriter(capacity: number): ByteWriter {
  let buffer = new Uint8Array(capacity);
  let length = 0;
  const need = (more: number): void => {
    if (length + more <= buffer.length) return;
    const larger = new Uint8Array(Math.max(buffer.length * 2, length + more));
    larger.set(buffer.subarray(0, length));
    buffer = larger;
  };
  const writer: ByteWriter = {
    byte(value) {
      need(1);
      buffer[length++] = value;
    },
    varint(value) {
      need(8);
      while (value >= 0x80) {
        buffer[length++] = (value % 0x80) | 0x80;
        value = Math.floor(value / 0x80);
      }
      buffer[length++] = value;
    },
    signed(value) {
      // Zigzag would leave the safe range for the largest numbers, so the sign goes in the first byte.
      const negative = value < 0 ? 1 : 0;
      const size = negative ? -(value + 1) : value;
      need(9);
      if (size < 0x40) {
        buffer[length++] = (size << 1) | negative;
        return;
      }
      buffer[length++] = 0x80 | (((size % 0x40) << 1) | negative);
      writer.varint(Math.floor(size / 0x40));
    },
    bytes(value) {
      need(value.length);
      buffer.set(value, length);
      length += value.length;
    },
    get length() {
      return length;
    },
    take: () => buffer.slice(0, length),
    reset() {
      length = 0;
    },
  };
  return writer;
}

export interface ByteReader {
  byte(): number;
  varint(): number;
  signed(): number;
  /** A view, not a copy. */
  bytes(count: number): Uint8Array;
  readonly at: number;
}

/** @throws RangeError at a read past the end: the block is damaged */
export function createByteReader(buffer: Uint8Array): ByteReader {
  let at = 0;
  const byte = (): number => {
    const value = buffer[at++];
    if (value === undefined) throw new RangeError(`Cannot read byte ${at - 1} of a block of ${buffer.length} bytes`);
    return value;
  };
  const varint = (): number => {
    let value = 0;
    let scale = 1;
    for (;;) {
      const part = byte();
      value += (part & 0x7f) * scale;
      if (part < 0x80) return value;
      scale *= 0x80;
    }
  };
  return {
    byte,
    varint,
    signed() {
      const first = byte();
      const negative = (first & 1) === 1;
      let size = (first & 0x7f) >> 1;
      if (first & 0x80) size += varint() * 0x40;
      return negative ? -size - 1 : size;
    },
    bytes(count) {
      if (at + count > buffer.length) {
        throw new RangeError(`Cannot read ${count} bytes at ${at} of a block of ${buffer.length} bytes`);
      }
      at += count;
      return buffer.subarray(at - count, at);
    },
    get at() {
      return at;
    },
  };
}
