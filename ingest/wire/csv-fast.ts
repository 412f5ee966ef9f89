import { columnOf, SOURCE_KINDS, STORED_MAX } from '../vocabulary/quantities.ts';
import { T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import type { BatchBuilder } from './batch-builder.ts';
import { asciiBytes, RARE_KEYS } from './key-table.ts';
import { NumberBytes } from './number-bytes.ts';
import { SourceCache } from './source-cache.ts';
import { TextCache } from './text-cache.ts';
import { TimeBytes } from './time-bytes.ts';

const COMMA = 44;
const NEWLINE = 10;
const NOT_PLAIN = -1;

/** What a column of the header is for; `rare` where its cells, if filled, go the slow path. */
type Role = 'number' | 'word' | 'time' | 'site' | 'source' | 'extra' | 'rare';

interface CsvColumn {
  readonly name: string;
  readonly role: Role;
  /** Place in `SOURCE_KINDS`. */
  readonly kind: number;
  readonly column: number;
  readonly decimals: number;
  readonly words: readonly Uint8Array[];
}

function csvColumn(name: string): CsvColumn {
  const plain = { name, kind: 0, column: -1, decimals: 0, words: [] };
  if (name === 't') return { ...plain, role: 'time' };
  if (name === 'site') return { ...plain, role: 'site' };
  for (const [kind, kindName] of SOURCE_KINDS.entries()) {
    if (name === kindName) return { ...plain, role: 'source', kind };
    const found = columnOf(kindName, name);
    if (found === undefined) continue;
    const { index, decimals, words } = found;
    return {
      name,
      role: words === null ? 'number' : 'word',
      kind,
      column: index,
      decimals,
      words: (words ?? []).map(asciiBytes),
    };
  }
  return { ...plain, role: RARE_KEYS.includes(name) || name.startsWith('settings.') ? 'rare' : 'extra' };
}

/** Whether a cell may end before this byte. */
function endsCell(byte: number | undefined): boolean {
  return byte === COMMA || byte === NEWLINE || byte === 13;
}

/** @returns where the cell of plain ASCII that begins at `from` ends; -1 where it is not plain, or has spaces at its edges */
function cellEnd(bytes: Uint8Array, from: number): number {
  let to = from;
  for (;;) {
    const byte = bytes[to]!;
    if (endsCell(byte)) return bytes[from] === 32 || bytes[to - 1] === 32 ? NOT_PLAIN : to;
    if (byte < 32 || byte > 126 || byte === 34) return NOT_PLAIN;
    to += 1;
  }
}

/** Takes plain CSV rows straight from bytes into the row log; every other row is left to the slow path, which says the same. */
export class CsvFast {
  readonly #builder: BatchBuilder;
  readonly #columns: readonly CsvColumn[];
  readonly #number = new NumberBytes();
  readonly #time = new TimeBytes();
  readonly #texts = new TextCache();
  readonly #sources: SourceCache;
  #t = Number.NaN;
  #siteFrom = 0;
  #siteTo = 0;
  #kind = -1;
  #idFrom = 0;
  #idTo = 0;
  #kinds = 0;
  #extras: Record<string, unknown> | null = null;

  constructor(builder: BatchBuilder, names: readonly string[]) {
    this.#builder = builder;
    this.#columns = names.map(csvColumn);
    this.#sources = new SourceCache(builder);
  }

  startBatch(): void {
    this.#sources.startBatch();
  }

  /**
   * @param bytes  a newline stands at or after `from`
   * @returns where the next row begins, or -1 where this row is not plain: then nothing was taken
   */
  take(bytes: Uint8Array, from: number): number {
    this.#t = Number.NaN;
    this.#siteTo = 0;
    this.#kind = -1;
    this.#kinds = 0;
    this.#extras = null;
    this.#builder.beginRow();
    const end = this.#readCells(bytes, from);
    if (end !== NOT_PLAIN && this.#commit(bytes)) return end;
    this.#builder.dropRow();
    return NOT_PLAIN;
  }

  #readCells(bytes: Uint8Array, from: number): number {
    const columns = this.#columns;
    const last = columns.length - 1;
    let at = from;
    for (let k = 0; k <= last; k += 1) {
      if (!endsCell(bytes[at])) at = this.#readCell(bytes, at, columns[k]!);
      if (at === NOT_PLAIN) return NOT_PLAIN;
      if (k === last) break;
      if (bytes[at] !== COMMA) return NOT_PLAIN;
      at += 1;
    }
    if (bytes[at] === 13) at += 1;
    return bytes[at] === NEWLINE ? at + 1 : NOT_PLAIN;
  }

  /** A cell that is not empty. @returns where it ended */
  #readCell(bytes: Uint8Array, from: number, column: CsvColumn): number {
    if (column.role === 'number') {
      this.#kinds |= 1 << column.kind;
      const stored = this.#number.readStored(bytes, from, column.decimals);
      if (!(Math.abs(stored) <= STORED_MAX)) return NOT_PLAIN;
      this.#builder.put(column.column, stored);
      return this.#number.end;
    }
    const to = cellEnd(bytes, from);
    if (to === NOT_PLAIN) return NOT_PLAIN;
    if (column.role === 'word') return this.#readWord(bytes, from, to, column);
    if (column.role === 'time') return this.#readTime(bytes, from, to);
    if (column.role === 'site') {
      this.#siteFrom = from;
      this.#siteTo = to;
      return to;
    }
    if (column.role === 'extra') return this.#readExtra(bytes, from, to, column.name);
    // A second source on one row, and whatever the columns of the vocabulary do not know.
    if (column.role === 'rare' || this.#kind !== -1) return NOT_PLAIN;
    this.#kind = column.kind;
    this.#idFrom = from;
    this.#idTo = to;
    return to;
  }

  #readTime(bytes: Uint8Array, from: number, to: number): number {
    this.#t = this.#time.read(bytes, from, to);
    if (!Number.isNaN(this.#t)) return to;
    const t = this.#number.read(bytes, from);
    if (!Number.isInteger(t) || t < T_MIN_MS || t > T_MAX_MS || this.#number.end !== to) return NOT_PLAIN;
    for (let at = from; at < to; at += 1) if (bytes[at] === 46) return NOT_PLAIN;
    this.#t = t;
    return to;
  }

  /** Says what `plainValue` says of a cell; an exponent, and a number of many digits, are left to it. */
  #readExtra(bytes: Uint8Array, from: number, to: number, name: string): number {
    const first = bytes[from]!;
    let value: string | number | boolean;
    if (first === 45 || (first >= 48 && first <= 57)) {
      value = this.#number.read(bytes, from);
      if (Number.isNaN(value) || this.#number.end !== to) return NOT_PLAIN;
    } else {
      const text = this.#texts.read(bytes, from, to);
      value = text === 'true' ? true : text === 'false' ? false : text;
    }
    this.#extras ??= {};
    this.#extras[name] = value;
    return to;
  }

  #readWord(bytes: Uint8Array, from: number, to: number, { kind, column, words }: CsvColumn): number {
    this.#kinds |= 1 << kind;
    for (let k = 0; k < words.length; k += 1) {
      const word = words[k]!;
      if (word.length !== to - from) continue;
      let same = 0;
      while (same < word.length && bytes[from + same] === word[same]) same += 1;
      if (same < word.length) continue;
      this.#builder.put(column, k);
      return to;
    }
    return NOT_PLAIN;
  }

  #commit(bytes: Uint8Array): boolean {
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
