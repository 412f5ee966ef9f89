import { parse } from 'csv-parse/sync';

// A row that spans lines has newlines only inside of quotes; outside of them nothing may end it.
const ROW_ENDS = ['\u0000'];

/** The cells of a row as many programs write it, each cell in quotes and no quote in a cell: much faster. */
function everyCellQuoted(row: string, delimiter: string): readonly string[] | null {
  if (row.length < 2 || !row.startsWith('"') || !row.endsWith('"')) return null;
  const cells = row.slice(1, -1).split(`"${delimiter}"`);
  return cells.some((cell) => cell.includes('"')) ? null : cells;
}

/**
 * The cells of one row.
 *
 * @param row  text of the row, without its line end
 * @returns null where its quotes do not pair, or stand in the middle of a cell
 * @see RFC 4180, section 2
 */
export function splitCells(row: string, delimiter: string): readonly string[] | null {
  if (!row.includes('"')) return row.split(delimiter);
  const plain = everyCellQuoted(row, delimiter);
  if (plain !== null) return plain;
  try {
    const rows: string[][] = parse(row, { delimiter, record_delimiter: ROW_ENDS, relax_column_count: true });
    return rows.length === 1 ? rows[0]! : null;
  } catch {
    return null;
  }
}

/** A row without its line end. */
export function withoutLineEnd(row: string): string {
  if (row.endsWith('\r\n')) return row.slice(0, -2);
  return row.endsWith('\n') || row.endsWith('\r') ? row.slice(0, -1) : row;
}

/** A number as CSV files write it: an exponent or a sign may stand there, spaces may stand round it. */
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;
const JSON_NUMBER = /^-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?$/;

/** The number a cell holds, else its text. */
export function numberOrText(cell: string): number | string {
  return NUMBER.test(cell) ? Number(cell) : cell;
}

/** A cell that has no type of its own: a number as JSON writes one, true, false, else text. "007" stays a text. */
export function plainValue(cell: string): number | boolean | string {
  if (cell === 'true' || cell === 'false') return cell === 'true';
  return JSON_NUMBER.test(cell) && Number.isFinite(Number(cell)) ? Number(cell) + 0 : cell;
}

/** As `plainValue`, but a number only where nothing is lost by it: firmware "1.10" is not 1.1. */
export function exactValue(cell: string): number | boolean | string {
  const value = plainValue(cell);
  return typeof value === 'number' && String(value) !== cell ? cell : value;
}
