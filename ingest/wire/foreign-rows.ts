import type { SourceKey } from '../vocabulary/reading.ts';
import type { ColumnMap, MappedSource, NamedBy, ValueColumn } from './column-map.ts';
import { splitCells, withoutLineEnd } from './csv-cells.ts';
import { type DecimalReader, decimalReader } from './decimal-text.ts';
import { type Fault, isFault, type LineMeaning, readSource, readTime, readValue } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';

/** A row between its two passes: which sources, when by its own clock. */
export interface OpenRow {
  readonly line: number;
  readonly cells: readonly string[];
  readonly sources: readonly SourceKey[];
  readonly timeText: string;
  /** Instant or wall time, ms. */
  readonly ms: number;
}
export interface BadRow {
  readonly line: number;
  readonly fault: Fault;
}

/** States are named by people who type: more than this many different ones are no states. */
const MOST_UNKNOWN_STATES = 1000;

/** A value column with the place of its cell. */
interface Reader {
  readonly at: number;
  readonly value: ValueColumn;
  readonly absentNumbers: readonly number[];
}

/** Reads the rows of one foreign CSV as its column map says. */
export class ForeignRows {
  readonly #map: ColumnMap;
  readonly #unreadable: Fault | null;
  readonly #places: ReadonlyMap<string, number>;
  readonly #width: number;
  readonly #number: DecimalReader;
  readonly #readers: readonly (readonly Reader[])[];
  readonly #timeAt: readonly number[];
  /** States in no map, and on how many rows. */
  readonly unknownStates = new Map<string, number>();

  /**
   * @param names       the columns of the header
   * @param unreadable  what is wrong with the header, if anything: then every row is refused for it
   */
  constructor(map: ColumnMap, names: readonly string[], unreadable: Fault | null) {
    this.#unreadable = unreadable;
    this.#map = map;
    this.#width = names.length;
    this.#places = new Map(names.map((name, k) => [name, k]));
    this.#number = decimalReader(map.decimal, map.thousands);
    this.#timeAt = map.time.columns.map((column) => this.#placeOf(column));
    this.#readers = map.sources.map((source) => source.values.map((value) => this.#readerOf(value)));
  }

  #placeOf(column: string): number {
    return this.#places.get(column) ?? -1;
  }

  #readerOf(value: ValueColumn): Reader {
    // A sentinel is written in the map with a point, in the file with the file's own sign.
    const absentNumbers = value.absent
      .filter((text) => text !== '')
      .flatMap((text) => [Number(text), this.#number(text)]);
    return {
      at: this.#placeOf(value.column),
      value,
      absentNumbers: absentNumbers.filter((each) => !Number.isNaN(each)),
    };
  }

  /** First pass: cells, sources and the time as it is written. */
  open(text: string, line: number): OpenRow | BadRow {
    if (this.#unreadable !== null) return { line, fault: this.#unreadable };
    const { quotedCells } = this.#map.form;
    const cells = splitCells(withoutLineEnd(text), quotedCells);
    if (cells === null)
      return {
        line,
        fault: {
          what: `the quotes of ${quoteText(withoutLineEnd(text))} do not pair`,
          remedy: 'close each quote; write a quote inside of a cell twice',
        },
      };
    if (cells.length !== this.#width) {
      return {
        line,
        fault: {
          what: `the row has ${cells.length} cells, the header ${this.#width}`,
          remedy: 'check the delimiter of the map, and that the row is whole',
        },
      };
    }
    const timeText = this.#timeAt.map((at) => cells[at]!.trim()).join(' ');
    const ms = this.#map.time.format.read(timeText);
    if (Number.isNaN(ms)) {
      return {
        line,
        fault: { what: `the time is ${quoteText(timeText)}`, remedy: 'correct it, or the format of time in the map' },
      };
    }
    const sources: SourceKey[] = [];
    for (const mapped of this.#map.sources) {
      const source = this.#sourceOf(cells, mapped);
      if (isFault(source)) return { line, fault: source };
      sources.push(source);
    }
    return { line, cells, sources, timeText, ms };
  }

  #sourceOf(cells: readonly string[], { kind, id }: MappedSource): SourceKey | Fault {
    const site = this.#nameIn(cells, this.#map.site);
    if (typeof site !== 'string') return site;
    const own = this.#nameIn(cells, id);
    return typeof own === 'string' ? readSource(site, kind, own) : own;
  }

  #nameIn(cells: readonly string[], named: NamedBy): string | Fault {
    if ('fixed' in named) return named.fixed;
    const text = cells[this.#placeOf(named.column)]!.trim();
    if (named.names === null) return text;
    return (
      named.names.get(text) ?? {
        what: `${quoteText(named.column)} is ${quoteText(text)}`,
        remedy: 'add it to names in the map',
      }
    );
  }

  /** Second pass: what the row says of each of its sources at that instant. */
  meanings(row: OpenRow, instant: number): readonly LineMeaning[] | Fault {
    const t = readTime(instant);
    if (typeof t !== 'number') return t;
    const meanings: LineMeaning[] = [];
    for (const [k, readers] of this.#readers.entries()) {
      const values: number[] = [];
      for (const reader of readers) {
        const stored = this.#stored(row.cells[reader.at]!.trim(), reader);
        if (stored === null) continue;
        if (typeof stored !== 'number') return stored;
        values.push(reader.value.target.index, stored);
      }
      meanings.push({
        source: row.sources[k]!,
        t,
        values,
        extras: null,
        replaces: false,
        revision: 0,
        settings: null,
        alarm: null,
      });
    }
    return meanings;
  }

  /** @returns the stored integer, null for absent */
  #stored(cell: string, { value, absentNumbers }: Reader): number | null | Fault {
    if (cell === '' || value.absent.includes(cell)) return null;
    const { target, states } = value;
    if (target.words !== null) {
      const word = states === null ? cell : states.get(cell);
      if (word !== undefined) return readValue(target, word);
      this.#countState(`${target.id} ${quoteText(cell)}`);
      return null;
    }
    const number = this.#number(cell);
    if (Number.isNaN(number)) {
      return {
        what: `${quoteText(value.column)} is ${quoteText(cell)}`,
        remedy: `${target.id} wants a number; add the text to absent in the map, or check decimal and thousands`,
      };
    }
    if (absentNumbers.includes(number)) return null;
    return readValue(target, number * value.factor + value.offset);
  }

  #countState(state: string): void {
    if (this.unknownStates.size < MOST_UNKNOWN_STATES || this.unknownStates.has(state)) {
      this.unknownStates.set(state, (this.unknownStates.get(state) ?? 0) + 1);
    }
  }
}
