import { type Column, columnOf, STORED_MAX, toStored } from '../../vocabulary/quantities.ts';
import type { SettingValue, SourceKey } from '../../vocabulary/reading.ts';
import type { SourceReading } from './poll-result.ts';

/** The values of one source at one poll, while they are gathered. */
export class ReadingDraft {
  readonly source: SourceKey;
  readonly #stored = new Map<number, number>();
  readonly #extras = new Map<string, unknown>();
  #settings: Readonly<Record<string, SettingValue>> | null = null;
  #isHeard = false;

  constructor(source: SourceKey) {
    this.source = source;
  }

  /** Something of this source was answered: it has a reading, even where every value in it is absent. */
  hear(): void {
    this.#isHeard = true;
  }

  column(id: string): Column | undefined {
    return columnOf(this.source.kind, id);
  }

  has(id: string): boolean {
    const column = this.column(id);
    return column !== undefined && this.#stored.has(column.index);
  }

  /**
   * One value: a number, or the word of a state.
   *
   * @returns why it is not taken, or null
   * @throws RangeError  where the source has no such quantity: callers look before
   */
  put(id: string, value: number | string): string | null {
    const column = this.column(id);
    if (column === undefined) throw new RangeError(`Cannot put ${id}: a ${this.source.kind} has no such quantity`);
    if (column.words !== null) {
      const at = typeof value === 'string' ? column.words.indexOf(value) : -1;
      if (at < 0) return `${String(value)} is no word of ${id}`;
      this.#stored.set(column.index, at);
      return null;
    }
    const stored = typeof value === 'number' ? toStored(column.decimals, value) : Number.NaN;
    if (!(Math.abs(stored) <= STORED_MAX)) return `${String(value)} is too large to be kept exactly`;
    this.#stored.set(column.index, stored);
    return null;
  }

  putExtra(key: string, value: unknown): void {
    this.#extras.set(key, value);
  }

  putSettings(settings: Readonly<Record<string, SettingValue>> | null): void {
    this.#settings = settings;
  }

  /** Null where nothing was answered of this source. */
  finish(): SourceReading | null {
    if (!this.#isHeard && this.#settings === null) return null;
    return {
      source: this.source,
      values: [...this.#stored].sort(([a], [b]) => a - b).flat(),
      extras: this.#extras.size === 0 ? null : Object.fromEntries(this.#extras),
      settings: this.#settings,
    };
  }
}
