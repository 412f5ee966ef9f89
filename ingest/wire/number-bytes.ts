import { toStored } from '../vocabulary/quantities.ts';

const MINUS = 45;
const POINT = 46;
const ZERO = 48;
/** Nine digits fit a 32-bit integer, fifteen a double: below 2^53 the mantissa is exact. */
const FEW_DIGITS = 9;
const MOST_DIGITS = 15;
const POWER_OF_TEN = [1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];

/**
 * Reads plain JSON numbers (sign, digits, point, digits) straight from bytes.
 *
 * A mantissa below 2^53 divided by a power of ten up to 10^22 is one rounding of two exact doubles, so
 * it equals `Number(text)` (W. D. Clinger, "How to Read Floating Point Numbers Accurately", PLDI 1990).
 * Exponents, more than 15 digits and everything that is no number are left to the caller's slow path.
 * A byte that is no part of a number must stand before the end of `bytes`: a scan has no other bound.
 */
export class NumberBytes {
  /** Where the last number that was read ended. */
  end = 0;
  #mantissa = 0;
  #decimals = 0;

  /** @returns the number at `from`, or NaN where no plain number stands there */
  read(bytes: Uint8Array, from: number): number {
    if (!this.#scan(bytes, from)) return Number.NaN;
    return this.#mantissa / POWER_OF_TEN[this.#decimals]!;
  }

  /** @returns `toStored` of the number at `from`, or NaN where no plain number stands there */
  readStored(bytes: Uint8Array, from: number, decimals: number): number {
    if (!this.#scan(bytes, from)) return Number.NaN;
    const spare = decimals - this.#decimals;
    // The kept decimals, or fewer: the stored integer needs no division and no rounding.
    if (spare === 0) return this.#mantissa;
    if (spare > 0 && Math.abs(this.#mantissa) < 1e12) return this.#mantissa * POWER_OF_TEN[spare]!;
    return toStored(decimals, this.#mantissa / POWER_OF_TEN[this.#decimals]!);
  }

  #scan(bytes: Uint8Array, from: number): boolean {
    let at = from;
    const isNegative = bytes[at] === MINUS;
    if (isNegative) at += 1;
    const first = at;
    // Unsigned, so that one comparison tells whether it is a digit.
    let digit = (bytes[at]! - ZERO) >>> 0;
    if (digit > 9) return false;
    let mantissa = digit;
    digit = (bytes[++at]! - ZERO) >>> 0;
    // JSON allows no digit after a leading zero.
    if (mantissa === 0 && digit <= 9) return false;
    while (digit <= 9) {
      mantissa = (Math.imul(mantissa, 10) + digit) | 0;
      digit = (bytes[++at]! - ZERO) >>> 0;
    }
    let digits = at - first;
    let decimals = 0;
    if (bytes[at] === POINT) {
      const point = at;
      digit = (bytes[++at]! - ZERO) >>> 0;
      while (digit <= 9) {
        mantissa = (Math.imul(mantissa, 10) + digit) | 0;
        digit = (bytes[++at]! - ZERO) >>> 0;
      }
      decimals = at - point - 1;
      if (decimals === 0) return false;
      digits += decimals;
    }
    this.end = at;
    this.#decimals = decimals;
    if (digits > FEW_DIGITS) return this.#readLong(bytes, first, at, isNegative, digits);
    // Zero minus zero is zero; minus zero would be another one.
    this.#mantissa = isNegative ? 0 - mantissa : mantissa;
    return true;
  }

  #readLong(bytes: Uint8Array, from: number, to: number, isNegative: boolean, digits: number): boolean {
    if (digits > MOST_DIGITS) return false;
    let mantissa = 0;
    for (let at = from; at < to; at += 1) {
      const byte = bytes[at]!;
      if (byte !== POINT) mantissa = mantissa * 10 + byte - ZERO;
    }
    this.#mantissa = isNegative ? 0 - mantissa : mantissa;
    return true;
  }
}
