/** A column map as given on the command line or in the configuration. */
import type { Refusal } from '../vocabulary/refusal.ts';
import { parseColumnMap } from '../wire/column-map.ts';

/** Every mistake of a column map, each with its place; empty where it can be used. */
export function columnMapMistakes(text: string, file: string): readonly Refusal[] {
  return parseColumnMap(text, file).mistakes;
}
