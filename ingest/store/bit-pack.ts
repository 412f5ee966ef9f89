/**
 * Integers of a fixed width in 32-bit words, least significant bits first.
 * A chunk of 128 values of width w fills exactly 4·w words, so chunks stay aligned.
 */

/**
 * Packs `count` values, each in [0, 2^width), into `words` from `at` on.
 *
 * @param width 0 to 31 bits; 0 packs nothing
 * @returns the place after the last word written
 */
export function packBits(values: Int32Array, count: number, width: number, words: Uint32Array, at: number): number {
  if (width === 0) return at;
  let word = 0;
  let filled = 0;
  for (let i = 0; i < count; i++) {
    const value = values[i]!;
    word |= value << filled;
    filled += width;
    if (filled >= 32) {
      words[at++] = word;
      filled -= 32;
      word = filled === 0 ? 0 : value >>> (width - filled);
    }
  }
  if (filled > 0) words[at++] = word;
  return at;
}

/**
 * The reverse of `packBits`.
 *
 * @returns the place after the last word read
 */
export function unpackBits(words: Uint32Array, at: number, count: number, width: number, values: Int32Array): number {
  if (width === 0) {
    values.fill(0, 0, count);
    return at;
  }
  const mask = 2 ** width - 1;
  let word = words[at]!;
  let used = 0;
  for (let i = 0; i < count; i++) {
    let value = word >>> used;
    used += width;
    if (used >= 32) {
      used -= 32;
      at++;
      word = words[at]!;
      if (used > 0) value |= word << (width - used);
    }
    values[i] = value & mask;
  }
  return used === 0 ? at : at + 1;
}

/** Bits needed for a whole number of 0 or more. */
export function widthOf(value: number): number {
  return 32 - Math.clz32(value);
}
