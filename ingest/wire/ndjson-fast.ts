import { STORED_MAX } from '../vocabulary/quantities.ts';
import { T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import type { BatchBuilder } from './batch-builder.ts';
import { type Key, KeyTable, ROLE } from './key-table.ts';
import { NumberBytes } from './number-bytes.ts';
import { SourceCache } from './source-cache.ts';
import { TextCache } from './text-cache.ts';
import { TimeBytes } from './time-bytes.ts';

const QUOTE = 34;
const NEWLINE = 10;
const NOT_PLAIN = -1;
const LONGEST_TEXT = 256;

/** Whether the letters of `word` stand at `from`. */
function hasWord(bytes: Uint8Array, from: number, word: Uint8Array | string): boolean {
  const { length } = word;
  if (typeof word === 'string') {
    for (let k = 0; k < length; k += 1) if (bytes[from + k] !== word.charCodeAt(k)) return false;
    return true;
  }
  for (let k = 0; k < length; k += 1) if (bytes[from + k] !== word[k]) return false;
  return true;
}

/** @returns where the text that begins at `from` has its closing quote; -1 where it is not plain ASCII */
function textEnd(bytes: Uint8Array, from: number): number {
  let to = from;
  for (;;) {
    const byte = bytes[to];
    if (byte === QUOTE) return to;
    if (byte === undefined || byte < 32 || byte > 126 || byte === 92 || to - from > LONGEST_TEXT) return NOT_PLAIN;
    to += 1;
  }
}

function afterSpaces(bytes: Uint8Array, from: number): number {
  let at = from;
  while (bytes[at] === 32) at += 1;
  return at;
}

/**
 * Takes plain NDJSON lines straight from bytes into the row log: a flat object of numbers, words,
 * true, false and null. Every other line is left alone and goes through `JSON.parse`; both ways say the same.
 */
export class NdjsonFast {
  readonly #builder: BatchBuilder;
  readonly #keys = new KeyTable();
  readonly #number = new NumberBytes();
  readonly #time = new TimeBytes();
  readonly #texts = new TextCache();
  readonly #sources: SourceCache;
  #view: DataView = new DataView(new ArrayBuffer(0));
  #line = 0;
  // What the line that is being read has said so far.
  #t = Number.NaN;
  #siteFrom = 0;
  #siteTo = 0;
  #kind = -1;
  #idFrom = 0;
  #idTo = 0;
  /** The kinds that the line's quantities belong to, one bit each. */
  #kinds = 0;
  #extras: Record<string, unknown> | null = null;

  constructor(builder: BatchBuilder) {
    this.#builder = builder;
    this.#sources = new SourceCache(builder);
  }

  /** @param bytes  what `take` will be given until the next batch; the last of them is a newline */
  startBatch(bytes: Uint8Array): void {
    this.#sources.startBatch();
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  /** @returns where the next line begins, or -1 where this line is not plain: then nothing was taken */
  take(bytes: Uint8Array, from: number): number {
    this.#begin();
    const end = this.#readObject(bytes, from);
    if (end !== NOT_PLAIN && this.#commit(bytes)) return end;
    this.#builder.dropRow();
    return NOT_PLAIN;
  }

  #begin(): void {
    this.#line += 1;
    this.#t = Number.NaN;
    this.#siteTo = 0;
    this.#kind = -1;
    this.#kinds = 0;
    this.#extras = null;
    this.#builder.beginRow();
  }

  #readObject(bytes: Uint8Array, from: number): number {
    if (bytes[from] !== 123) return NOT_PLAIN;
    let at = afterSpaces(bytes, from + 1);
    let key: Key | null = this.#keys.start;
    for (;;) {
      if (bytes[at] !== QUOTE) return NOT_PLAIN;
      key = this.#keys.keyAt(bytes, this.#view, at + 1, key);
      // Of a key that comes twice the last counts, as in JSON.parse: too rare for this way.
      if (key === null || key.seenOn === this.#line) return NOT_PLAIN;
      key.seenOn = this.#line;
      at += key.bytes.length + 2;
      if (bytes[at] !== 58) {
        at = afterSpaces(bytes, at);
        if (bytes[at] !== 58) return NOT_PLAIN;
      }
      at += 1;
      if (bytes[at] === 32) at = afterSpaces(bytes, at);
      at = this.#readValue(bytes, at, key);
      if (at === NOT_PLAIN) return NOT_PLAIN;
      if (bytes[at] === 32) at = afterSpaces(bytes, at);
      const byte = bytes[at];
      at += 1;
      if (byte === 44) {
        if (bytes[at] === 32) at = afterSpaces(bytes, at);
      } else if (byte === 125) {
        break;
      } else {
        return NOT_PLAIN;
      }
    }
    while (bytes[at] === 32 || bytes[at] === 13) at += 1;
    return bytes[at] === NEWLINE ? at + 1 : NOT_PLAIN;
  }

  /** @returns where the value ended */
  #readValue(bytes: Uint8Array, from: number, key: Key): number {
    if (key.role === ROLE.quantity) {
      if (bytes[from] === 110) return hasWord(bytes, from, 'null') ? from + 4 : NOT_PLAIN;
      this.#kinds |= 1 << key.kind;
      if (key.words !== null) return this.#readWord(bytes, from, key, key.words);
      const stored = this.#number.readStored(bytes, from, key.decimals);
      if (!(Math.abs(stored) <= STORED_MAX)) return NOT_PLAIN;
      this.#builder.put(key.column, stored);
      return this.#number.end;
    }
    if (key.role === ROLE.extra) return this.#readExtra(bytes, from, key.name);
    if (key.role === ROLE.rare) return NOT_PLAIN;
    if (key.role === ROLE.time && bytes[from] !== QUOTE) {
      const t = this.#number.read(bytes, from);
      if (!Number.isInteger(t) || t < T_MIN_MS || t > T_MAX_MS) return NOT_PLAIN;
      this.#t = t;
      return this.#number.end;
    }
    if (bytes[from] !== QUOTE) return NOT_PLAIN;
    const to = textEnd(bytes, from + 1);
    if (to === NOT_PLAIN) return NOT_PLAIN;
    return this.#readIdentity(bytes, from + 1, to, key) ? to + 1 : NOT_PLAIN;
  }

  #readIdentity(bytes: Uint8Array, from: number, to: number, key: Key): boolean {
    if (key.role === ROLE.time) {
      this.#t = this.#time.read(bytes, from, to);
      return !Number.isNaN(this.#t);
    }
    if (key.role === ROLE.site) {
      this.#siteFrom = from;
      this.#siteTo = to;
      return true;
    }
    if (this.#kind !== -1) return false;
    this.#kind = key.kind;
    this.#idFrom = from;
    this.#idTo = to;
    return true;
  }

  #readWord(bytes: Uint8Array, from: number, key: Key, words: readonly Uint8Array[]): number {
    if (bytes[from] !== QUOTE) return NOT_PLAIN;
    for (let k = 0; k < words.length; k += 1) {
      const word = words[k]!;
      const to = from + 1 + word.length;
      if (bytes[to] === QUOTE && hasWord(bytes, from + 1, word)) {
        this.#builder.put(key.column, k);
        return to + 1;
      }
    }
    return NOT_PLAIN;
  }

  #readExtra(bytes: Uint8Array, from: number, name: string): number {
    const first = bytes[from];
    if (first === QUOTE) {
      const to = textEnd(bytes, from + 1);
      if (to === NOT_PLAIN) return NOT_PLAIN;
      this.#keep(name, this.#texts.read(bytes, from + 1, to));
      return to + 1;
    }
    if (first === 110) return hasWord(bytes, from, 'null') ? from + 4 : NOT_PLAIN;
    if (first === 116 || first === 102) {
      const isTrue = first === 116;
      if (!hasWord(bytes, from, isTrue ? 'true' : 'false')) return NOT_PLAIN;
      this.#keep(name, isTrue);
      return from + (isTrue ? 4 : 5);
    }
    const value = this.#number.read(bytes, from);
    if (Number.isNaN(value)) return NOT_PLAIN;
    this.#keep(name, value);
    return this.#number.end;
  }

  /** `__proto__` does not come here: it is a rare key. */
  #keep(name: string, value: unknown): void {
    this.#extras ??= {};
    this.#extras[name] = value;
  }

  #commit(bytes: Uint8Array): boolean {
    // A quantity of another kind of source is an unknown key: kept as an extra, by the other way.
    if (Number.isNaN(this.#t) || this.#siteTo === 0 || this.#kind === -1 || (this.#kinds & ~(1 << this.#kind)) !== 0)
      return false;
    const place = this.#sources.placeOf(bytes, this.#siteFrom, this.#siteTo, this.#kind, this.#idFrom, this.#idTo);
    if (place === -1) return false;
    const reading = this.#builder.endRow(place, this.#t);
    this.#builder.countLine();
    if (this.#extras !== null) this.#builder.addExtras(reading, this.#extras);
    return true;
  }
}
