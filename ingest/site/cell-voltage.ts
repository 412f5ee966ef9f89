/** What a pack is taken for where its record does not say. */
export const LFP_CELL_V = 3.2;

/** Nominal voltage of one cell by chemistry, V, as data sheets print it (common practice). */
const NOMINAL_CELL_V: ReadonlyMap<string, number> = new Map([
  ['lfp', LFP_CELL_V],
  ['nmc', 3.65],
  ['nca', 3.6],
  ['lto', 2.3],
  ['lead', 2],
]);

/** Nominal voltage of a cell, V; null for a chemistry that is not in the table. */
export function nominalCellV(chemistry: string): number | null {
  return NOMINAL_CELL_V.get(chemistry) ?? null;
}
