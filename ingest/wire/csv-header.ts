import { SOURCE_KINDS } from '../vocabulary/quantities.ts';
import type { RefusedLine } from '../vocabulary/reading.ts';
import { splitCells, withoutLineEnd } from './csv-cells.ts';
import type { Fault } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';
import { countLines, type LineForm, rowEnd } from './row-end.ts';
import { lineText, markLength } from './text-bytes.ts';

/** Where the header of a CSV stands, and where its rows begin. */
export interface HeaderPlace {
  readonly header: Uint8Array;
  /** Number of the header's line, from 1. */
  readonly headerLine: number;
  /** Place and line of the first row; the place counts from the start of the bytes given. */
  readonly bodyOffset: number;
  readonly bodyLine: number;
}

/**
 * Finds the header in the first bytes of a CSV, blank lines before it passed over.
 *
 * @param bytes      the start of the file, in whole lines: the first piece of `LineChunks`
 * @param skipLines  lines before the header that say something else
 * @returns null where these bytes end before the header does
 */
export function findHeader(bytes: Uint8Array, form: LineForm, skipLines: number): HeaderPlace | null {
  let at = 0;
  let line = 1;
  for (let skipped = 0; at < bytes.length; ) {
    const end = rowEnd(bytes, at, skipped < skipLines ? { ...form, quotedCells: null } : form, true);
    const row = bytes.subarray(at, end);
    if (skipped >= skipLines && !isBlankRow(row)) {
      const bodyLine = line + Math.max(1, countLines(row, form.unitBytes));
      return { header: row, headerLine: line, bodyOffset: end, bodyLine };
    }
    if (skipped < skipLines) skipped += 1;
    at = end;
    line += 1;
  }
  return null;
}

/** Spaces, line ends, marks of byte order, and the high bytes of UTF-16. */
const BLANK: ReadonlySet<number> = new Set([0, 9, 10, 13, 32, 0xef, 0xbb, 0xbf, 0xff, 0xfe]);

function isBlankRow(row: Uint8Array): boolean {
  return row.every((byte) => BLANK.has(byte));
}

const FOREIGN_REMEDY = 'a CSV of another form comes in with --columns MAP.yaml, which says what each column is';

function nameFaults(names: readonly string[]): Fault[] {
  const faults: Fault[] = [];
  for (const [k, name] of names.entries()) {
    if (name === '')
      faults.push({ what: `column ${k + 1} has no name`, remedy: 'name it in the header, or take the column out' });
    else if (names.indexOf(name) < k) {
      faults.push({
        what: `columns ${names.indexOf(name) + 1} and ${k + 1} are both named ${quoteText(name)}`,
        remedy: 'give each column its own name',
      });
    }
  }
  const missing = [
    ...['t', 'site'].filter((name) => !names.includes(name)),
    ...(SOURCE_KINDS.some((kind) => names.includes(kind)) ? [] : ['unit (or pack, bank, meter)']),
  ];
  if (missing.length > 0) {
    faults.push({
      what: `the header has no column ${missing.join(', no column ')}`,
      remedy: `name the columns t,site,unit,… ; ${FOREIGN_REMEDY}`,
    });
  }
  return faults;
}

/**
 * The names of the columns of a native CSV, or everything that is wrong with its header.
 *
 * @param headerLine  bytes of the header, with or without its line end and a byte order mark
 */
export function readHeader(headerLine: Uint8Array): {
  readonly names: readonly string[];
  readonly refusals: readonly RefusedLine[];
} {
  const refuse = (faults: readonly Fault[]) => ({
    names: [],
    refusals: faults.map((fault) => ({ line: 1, ...fault })),
  });
  const text = lineText(headerLine.subarray(markLength(headerLine)));
  if (typeof text !== 'string') return refuse([text]);
  const row = withoutLineEnd(text);
  const cells = splitCells(row, ',');
  if (cells === null)
    return refuse([
      {
        what: `the quotes of the header ${quoteText(row)} do not pair`,
        remedy: 'close each quote; write a quote inside of a name twice',
      },
    ]);
  const names = cells.map((cell) => cell.trim());
  const foreign = names.length === 1 ? [';', '\t', '|'].find((sign) => row.includes(sign)) : undefined;
  if (foreign !== undefined) {
    return refuse([
      {
        what: `the header ${quoteText(row)} has its names apart by ${foreign === '\t' ? 'tabs' : quoteText(foreign)}, not by commas`,
        remedy: FOREIGN_REMEDY,
      },
    ]);
  }
  const faults = nameFaults(names);
  return faults.length > 0 ? refuse(faults) : { names, refusals: [] };
}
