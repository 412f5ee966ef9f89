import { HOUR_MS, MINUTE_MS, parseTime, SECOND_MS } from '../vocabulary/time.ts';

/** Length of 2026-03-02T06:00:03, and of its day. */
const PLAIN_LENGTH = 19;
const DAY_LENGTH = 10;
/** No RFC 3339 time that is worth reading is longer. */
const LONGEST = 64;

function twoDigits(bytes: Uint8Array, at: number): number {
  const tens = bytes[at]! - 48;
  const ones = bytes[at + 1]! - 48;
  return tens >= 0 && tens <= 9 && ones >= 0 && ones <= 9 ? tens * 10 + ones : 99;
}

/** Reads RFC 3339 times from bytes. The day is remembered: neighbours in a log share it. */
export class TimeBytes {
  readonly #day = new Uint8Array(DAY_LENGTH);
  #dayMs = Number.NaN;

  /** @returns epoch ms of the text in [from, to), or NaN where `parseTime` would not take it */
  read(bytes: Uint8Array, from: number, to: number): number {
    if (!this.#isSameDay(bytes, from)) return this.#readWhole(bytes, from, to);
    const hour = twoDigits(bytes, from + 11);
    const minute = twoDigits(bytes, from + 14);
    const second = twoDigits(bytes, from + 17);
    const isPlain =
      bytes[to - 1] === 90 &&
      bytes[from + 10] === 84 &&
      bytes[from + 13] === 58 &&
      bytes[from + 16] === 58 &&
      hour < 24 &&
      minute < 60 &&
      second < 60;
    if (!isPlain) return this.#readWhole(bytes, from, to);
    const ms = this.#dayMs + hour * HOUR_MS + minute * MINUTE_MS + second * SECOND_MS;
    const length = to - from;
    if (length === PLAIN_LENGTH + 1) return ms;
    if (length === PLAIN_LENGTH + 5 && bytes[from + 19] === 46) {
      const hundreds = bytes[from + 20]! - 48;
      const rest = twoDigits(bytes, from + 21);
      if (hundreds >= 0 && hundreds <= 9 && rest < 99) return ms + hundreds * 100 + rest;
    }
    return this.#readWhole(bytes, from, to);
  }

  #isSameDay(bytes: Uint8Array, from: number): boolean {
    const day = this.#day;
    for (let k = 0; k < DAY_LENGTH; k += 1) if (bytes[from + k] !== day[k]) return false;
    return true;
  }

  #readWhole(bytes: Uint8Array, from: number, to: number): number {
    if (to - from < PLAIN_LENGTH || to - from > LONGEST) return Number.NaN;
    const text = String.fromCharCode(...bytes.subarray(from, to));
    const t = parseTime(text);
    if (t === null) return Number.NaN;
    const dayMs = parseTime(`${text.slice(0, DAY_LENGTH)}T00:00:00Z`);
    if (dayMs !== null) {
      this.#day.set(bytes.subarray(from, from + DAY_LENGTH));
      this.#dayMs = dayMs;
    }
    return t;
  }
}
