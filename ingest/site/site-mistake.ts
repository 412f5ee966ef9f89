/** A mistake in a file that a person wrote, with the place to put the cursor. */
import { type Refusal, sayRefusal } from '../vocabulary/refusal.ts';

/** Line and column count from 1; a column is a UTF-16 unit, as editors count. */
export interface Place {
  readonly file: string;
  readonly line: number;
  readonly column: number;
}

export interface SiteMistake extends Refusal, Place {}

export function sayPlace({ file, line, column }: Place): string {
  return `${file}, line ${line}, column ${column}`;
}

export function mistakeAt(place: Place, what: string, remedy: string): SiteMistake {
  return { file: place.file, line: place.line, column: place.column, where: sayPlace(place), what, remedy };
}

/** One line of text: 'sites.yaml, line 12, column 5: rated_power_w is "8 kW"; write the bare number in W: 8000'. */
export function sayMistake(mistake: Refusal): string {
  return sayRefusal(mistake);
}

/** In the order of reading: by file, line, column. */
export function byPlace(a: Place, b: Place): number {
  if (a.file !== b.file) return a.file < b.file ? -1 : 1;
  return a.line - b.line || a.column - b.column;
}
