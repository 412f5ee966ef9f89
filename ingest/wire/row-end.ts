/** How the bytes of a file are cut into lines. */
export interface LineForm {
  /**
   * The cell delimiter of a CSV whose quoted cells may hold newlines (RFC 4180, section 2, rule 6);
   * null where a newline always ends a line.
   */
  readonly quotedCells: ',' | ';' | '\t' | '|' | null;
  /** 2 for UTF-16, low byte first; else 1. */
  readonly unitBytes: 1 | 2;
}

/** NDJSON. */
export const PLAIN_LINES: LineForm = { quotedCells: null, unitBytes: 1 };
/** The CSV of our own format. */
export const CSV_ROWS: LineForm = { quotedCells: ',', unitBytes: 1 };

/** A quoted cell that is still open after so many lines was never meant to span them: a quote is missing. */
export const MOST_ROW_LINES = 100;

const NEWLINE = 10;
const QUOTE = 34;
const NO_LETTER = -1;

/** Where the next newline ends; -1 where there is none before the end. */
export function newlineEnd(bytes: Uint8Array, from: number, unitBytes: 1 | 2): number {
  if (unitBytes === 1) return bytes.indexOf(NEWLINE, from) + 1 || -1;
  for (let at = from; at + 1 < bytes.length; at += 2) if (bytes[at] === NEWLINE && bytes[at + 1] === 0) return at + 2;
  return -1;
}

/**
 * Where the row that begins at `from` ends, its newline included.
 *
 * A quote opens a quoted cell only at the start of a cell; there a newline belongs to the cell. One that
 * is not closed within `MOST_ROW_LINES` lines, or at the end of the input, is taken for a stray quote:
 * the row then ends at its first newline, so that one broken line does not swallow the rest of a file.
 *
 * @param isWhole  whether nothing follows `bytes`
 * @returns -1 where the row goes on beyond the bytes; the end of the bytes where it does and `isWhole`
 */
export function rowEnd(
  bytes: Uint8Array,
  from: number,
  { quotedCells, unitBytes }: LineForm,
  isWhole: boolean,
): number {
  const firstEnd = newlineEnd(bytes, from, unitBytes);
  const openEnd = firstEnd === -1 ? (isWhole ? bytes.length : -1) : firstEnd;
  if (quotedCells === null || firstEnd === -1) return openEnd;
  // Nearly every row has no quote at all. An open search would go on to the next quote, row after row.
  if (!bytes.subarray(from, firstEnd).includes(QUOTE)) return firstEnd;
  return quotedRowEnd(bytes, from, { delimiter: quotedCells.charCodeAt(0), unitBytes, firstEnd, isWhole });
}

interface QuotedRow {
  readonly delimiter: number;
  readonly unitBytes: 1 | 2;
  readonly firstEnd: number;
  readonly isWhole: boolean;
}

function quotedRowEnd(bytes: Uint8Array, from: number, { delimiter, unitBytes, firstEnd, isWhole }: QuotedRow): number {
  let place: 'cell start' | 'plain' | 'quoted' | 'after quote' = 'cell start';
  let lines = 0;
  for (let at = from; at + unitBytes <= bytes.length; at += unitBytes) {
    const letter = unitBytes === 2 && bytes[at + 1] !== 0 ? NO_LETTER : bytes[at]!;
    if (place === 'quoted') {
      if (letter === QUOTE) place = 'after quote';
      else if (letter === NEWLINE && ++lines >= MOST_ROW_LINES) return firstEnd;
    } else if (letter === NEWLINE) {
      return at + unitBytes;
    } else if (letter === QUOTE && place !== 'plain') {
      // At the start of a cell it opens one; after a closing quote it was an escaped one, and the cell is open again.
      place = 'quoted';
    } else {
      place = letter === delimiter ? 'cell start' : 'plain';
    }
  }
  if (!isWhole) return -1;
  return place === 'quoted' ? firstEnd : bytes.length;
}

/** How many lines end in these bytes. */
export function countLines(bytes: Uint8Array, unitBytes: 1 | 2): number {
  let lines = 0;
  for (let at = newlineEnd(bytes, 0, unitBytes); at !== -1; at = newlineEnd(bytes, at, unitBytes)) lines += 1;
  return lines;
}
