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
 * The reverse of `packBits`. Looks one word ahead, so `words` holds one more than was packed.
 *
 * @returns the place after the last word read
 */
export function unpackBits(words: Uint32Array, at: number, count: number, width: number, values: Int32Array): number {
  if (width === 0) {
    values.fill(0, 0, count);
    return at;
  }
  const mask = 2 ** width - 1;
  for (let i = 0, bit = 0; i < count; i++, bit += width) {
    const place = at + (bit >>> 5);
    const used = bit & 31;
    // The next word's lowest bits come on top. In two shifts, because one by 32 is one by 0 in this language.
    const next = (words[place + 1]! << 1) << (31 - used);
    values[i] = ((words[place]! >>> used) | next) & mask;
  }
  return at + Math.ceil((count * width) / 32);
}

/** A value is `first + i × slope + what is packed`, divided by `divisor`; `from` is where in `values` the first goes. */
export interface PackedLine {
  readonly first: number;
  readonly slope: number;
  readonly divisor: number;
  readonly from: number;
}

/**
 * `unpackBits` and the line it is measured from, in one pass over the values.
 *
 * @returns the place after the last word read
 */
export function unpackOnLine(
  words: Uint32Array,
  at: number,
  count: number,
  width: number,
  { first, slope, divisor, from }: PackedLine,
  values: Float64Array,
): number {
  const mask = 2 ** width - 1;
  for (let i = 0, bit = 0; i < count; i++, bit += width) {
    const place = at + (bit >>> 5);
    const used = bit & 31;
    const next = (words[place + 1]! << 1) << (31 - used);
    values[from + i] = (first + i * slope + (((words[place]! >>> used) | next) & mask)) / divisor;
  }
  return at + Math.ceil((count * width) / 32);
}

/** Bits needed for a whole number of 0 or more. */
export function widthOf(value: number): number {
  return 32 - Math.clz32(value);
}
