import { columnOf, SOURCE_KINDS } from '../vocabulary/quantities.ts';
import type { ReadingBatch, RefusedLine } from '../vocabulary/reading.ts';
import { BatchBuilder } from './batch-builder.ts';
import { exactValue, numberOrText, plainValue, splitCells, withoutLineEnd } from './csv-cells.ts';
import { CsvFast } from './csv-fast.ts';
import { readHeader } from './csv-header.ts';
import { type Fault, isFault, type LineMeaning, readLine } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';
import { CSV_ROWS, rowEnd } from './row-end.ts';
import { isBlank, lineText } from './text-bytes.ts';

export interface CsvDecoder {
  /** What is wrong with the header. Where there is anything, the file cannot be read, and `decode` refuses every row. */
  readonly refusals: readonly RefusedLine[];
  /**
   * @param bytes      whole rows after the header; the last one may lack its newline
   * @param firstLine  number of the first line of them in the file, from 1
   */
  decode(bytes: Uint8Array, firstLine: number): ReadingBatch;
}

const SETTINGS = 'settings.';
const TEXTS: readonly string[] = ['site', ...SOURCE_KINDS, 'alarm', 'state'];

/** A column of the header, and what its cells would be on an NDJSON line. An empty cell is absent and is not read. */
export interface RowColumn {
  readonly name: string;
  /** The key of the setting the column holds, null for other columns. */
  readonly setting: string | null;
  readonly read: (cell: string) => unknown;
}

const asText = (cell: string): string => cell;
const asBoolean = (cell: string): boolean | string => (cell === 'true' || cell === 'false' ? cell === 'true' : cell);

/** A cell of a column named settings: the object it holds as JSON, else its text, which is refused as one. */
function settingsObject(cell: string): unknown {
  try {
    return JSON.parse(cell) as unknown;
  } catch {
    return cell;
  }
}

function rowColumn(name: string): RowColumn {
  const plain = { name, setting: null };
  if (name.startsWith(SETTINGS)) return { name, setting: name.slice(SETTINGS.length), read: exactValue };
  // Epoch milliseconds as spreadsheets and scripts write them too: 1772431200000.0, 1.7724312e12.
  if (name === 't') return { ...plain, read: numberOrText };
  if (name === 'settings') return { ...plain, read: settingsObject };
  if (name === 'replaces') return { ...plain, read: asBoolean };
  if (name === 'revision') return { ...plain, read: numberOrText };
  if (TEXTS.includes(name)) return { ...plain, read: asText };
  const column = SOURCE_KINDS.map((kind) => columnOf(kind, name)).find((found) => found !== undefined);
  if (column === undefined) return { ...plain, read: plainValue };
  return { ...plain, read: column.words === null ? numberOrText : asText };
}

export function rowColumns(names: readonly string[]): readonly RowColumn[] {
  return names.map(rowColumn);
}

function readRow(columns: readonly RowColumn[], cells: readonly string[]): LineMeaning | Fault {
  if (cells.length !== columns.length) {
    return {
      what: `the row has ${cells.length} cells, the header ${columns.length}`,
      remedy: 'write one cell for each column; put a cell that holds a comma in quotes',
    };
  }
  const fields: [string, unknown][] = [];
  const settings: [string, unknown][] = [];
  for (const [k, { name, setting, read }] of columns.entries()) {
    const cell = cells[k]!.trim();
    if (cell === '') continue;
    if (setting === null) fields.push([name, read(cell)]);
    else settings.push([setting, read(cell)]);
  }
  const line = Object.fromEntries(fields);
  if (settings.length === 0) return readLine(line);
  const { settings: whole = {} } = line;
  // What is no object is refused by the one place that knows what settings are.
  const isObject = typeof whole === 'object' && whole !== null && !Array.isArray(whole);
  return readLine({ ...line, settings: isObject ? { ...whole, ...Object.fromEntries(settings) } : whole });
}

/** One row by way of its cells: the meaning of any row, plain or not. */
export function readCsvRow(columns: readonly RowColumn[], row: Uint8Array): LineMeaning | Fault {
  const text = lineText(row);
  if (typeof text !== 'string') return text;
  const cells = splitCells(withoutLineEnd(text), ',');
  if (cells !== null) return readRow(columns, cells);
  return {
    what: `the quotes of ${quoteText(withoutLineEnd(text))} do not pair`,
    remedy: 'close each quote; write a quote inside of a cell twice',
  };
}

/**
 * Decodes CSV whose header has the names of the vocabulary: `t,site,unit,…`.
 *
 * An empty cell is absent. `unit`, `pack`, `bank` and `meter` may all be columns: a row fills one of them.
 * A column `settings.KEY` is a setting of the row's unit, a column `settings` holds several as JSON. Other columns are kept as extras: a number,
 * true or false where the cell is one, else text.
 *
 * @param headerLine  bytes of the header, as `findHeader` gives them
 */
export function createCsvDecoder(headerLine: Uint8Array): CsvDecoder {
  const { names, refusals } = readHeader(headerLine);
  const columns = rowColumns(names);
  const builder = new BatchBuilder();
  const fast = new CsvFast(builder, names);
  const unreadable = refusals[0];

  function takeSlowly(bytes: Uint8Array, from: number, to: number, line: number): void {
    if (isBlank(bytes, from, to)) return;
    const meaning = unreadable ?? readCsvRow(columns, bytes.subarray(from, to));
    if (isFault(meaning)) {
      builder.refuse(line, meaning);
    } else {
      builder.countLine();
      builder.take(meaning);
    }
  }

  return {
    refusals,
    decode(bytes, firstLine) {
      const ended = bytes.lastIndexOf(10) + 1;
      fast.startBatch();
      let line = firstLine;
      for (let at = 0; at < bytes.length; ) {
        let next = at < ended && unreadable === undefined ? fast.take(bytes, at) : -1;
        if (next === -1) {
          next = rowEnd(bytes, at, CSV_ROWS, true);
          takeSlowly(bytes, at, next, line);
          for (let k = at; k < next - 1; k += 1) if (bytes[k] === 10) line += 1;
        }
        line += 1;
        at = next;
      }
      return builder.finish();
    },
  };
}
