/** Stored readings, and figures of intervals of them, as lines of JSON or CSV (formats.md, sections 3 and 4). */
import { type Column, fromStored } from '../vocabulary/quantities.ts';
import type { SourceKey } from '../vocabulary/reading.ts';
import { formatTime } from '../vocabulary/time.ts';
import type { Interval } from './interval-figures.ts';

/** One reading: values in their own units by place of the column, NaN where absent; extras as they came. */
export interface ReadingRow {
  readonly t: number;
  readonly values: readonly number[];
  readonly extras: Readonly<Record<string, unknown>> | undefined;
}

/** `mode` 3 is grid; numbers stay. */
function cell(column: Column, value: number): number | string {
  return column.words === null ? value : (column.words[value] ?? value);
}

const keyOf = (source: SourceKey, t: number): Record<string, unknown> => ({
  t: formatTime(t),
  site: source.site,
  [source.kind]: source.id,
});

/** A log line again: what is absent is left out, keys outside the vocabulary are kept. */
export function readingJson(source: SourceKey, columns: readonly Column[], row: ReadingRow): string {
  const line = keyOf(source, row.t);
  columns.forEach((column, i) => {
    const value = row.values[i]!;
    if (!Number.isNaN(value)) line[column.id] = cell(column, value);
  });
  return JSON.stringify(row.extras === undefined ? line : { ...row.extras, ...line });
}

/** `t,site,unit,…` */
export function readingHeader(source: SourceKey, columns: readonly Column[]): string {
  return ['t', 'site', source.kind, ...columns.map(({ id }) => id)].join(',');
}

/** Cells in the order of the header, empty where absent. Ids and words hold no comma. */
export function readingCsv(source: SourceKey, columns: readonly Column[], row: ReadingRow): string {
  const cells = columns.map((column, i) => {
    const value = row.values[i]!;
    return Number.isNaN(value) ? '' : String(cell(column, value));
  });
  return [formatTime(row.t), source.site, source.id, ...cells].join(',');
}

interface Spread {
  readonly min: number;
  readonly mean: number;
  readonly max: number;
}

/** In the quantity's own unit. The sum is a whole number, so one division gives the nearest mean there is. */
function spreadAt(columns: readonly Column[], interval: Interval, place: number): Spread | null {
  const figures = interval.figures[place]!;
  if (figures === null) return null;
  const { decimals } = columns[place]!;
  return {
    min: fromStored(decimals, figures.min),
    mean: figures.sum / (figures.count * 10 ** decimals) + 0,
    max: fromStored(decimals, figures.max),
  };
}

/** `"Q":{"min":…,"mean":…,"max":…}` for each quantity that has a value in the interval. */
export function intervalJson(source: SourceKey, columns: readonly Column[], interval: Interval): string {
  const line = keyOf(source, interval.t);
  columns.forEach(({ id }, place) => {
    const spread = spreadAt(columns, interval, place);
    if (spread !== null) line[id] = spread;
  });
  return JSON.stringify(line);
}

/** `t,site,unit,Q.min,Q.mean,Q.max,…` */
export function intervalHeader(source: SourceKey, columns: readonly Column[]): string {
  const names = columns.flatMap(({ id }) => [`${id}.min`, `${id}.mean`, `${id}.max`]);
  return ['t', 'site', source.kind, ...names].join(',');
}

export function intervalCsv(source: SourceKey, columns: readonly Column[], interval: Interval): string {
  const cells = columns.flatMap((_, place) => {
    const spread = spreadAt(columns, interval, place);
    return spread === null ? ['', '', ''] : [spread.min, spread.mean, spread.max].map(String);
  });
  return [formatTime(interval.t), source.site, source.id, ...cells].join(',');
}
