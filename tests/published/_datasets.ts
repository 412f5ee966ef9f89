import { existsSync, readFileSync } from 'node:fs';

/** Outside data stands beside the repository and is not part of it: tests that read it run only where it is. */
const FOLDER = new URL('../../../shared/datasets/', import.meta.url);

export function isPresent(file: string): boolean {
  return existsSync(new URL(file, FOLDER));
}

/** Columns of numbers under their headers; an empty or non-numeric field is NaN. */
export function readColumns(file: string): ReadonlyMap<string, Float64Array> {
  const [header, ...rows] = readFileSync(new URL(file, FOLDER), 'utf8').trim().split(/\r?\n/);
  const fields = rows.map((row) => row.split(','));
  return new Map(
    header!
      .split(',')
      .map((name, k) => [name, Float64Array.from(fields, (row) => (row[k] ? Number(row[k]) : Number.NaN))]),
  );
}
