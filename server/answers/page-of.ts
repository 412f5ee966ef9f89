/** Pages of a sorted list. The cursor names the last row of the page before, so that new rows shift nothing. */
export interface Page<Row> {
  readonly rows: readonly Row[];
  readonly next: string | null;
}

/**
 * @param keyOf a text that no two rows share
 * @returns null where no row has the cursor: the list is no longer the one it came from
 */
export function pageOf<Row>(
  rows: readonly Row[],
  keyOf: (row: Row) => string,
  cursor: string | undefined,
  limit: number,
): Page<Row> | null {
  const from = cursor === undefined ? 0 : rows.findIndex((row) => keyOf(row) === cursor) + 1;
  if (cursor !== undefined && from === 0) return null;
  const page = rows.slice(from, from + limit);
  const last = page.at(-1);
  return { rows: page, next: last === undefined || from + limit >= rows.length ? null : keyOf(last) };
}
