import type { ReadingBatch, RefusedLine } from '../vocabulary/reading.ts';
import { BatchBuilder } from './batch-builder.ts';
import type { ColumnMap } from './column-map.ts';
import { splitCells, withoutLineEnd } from './csv-cells.ts';
import { type BadRow, ForeignRows, type OpenRow } from './foreign-rows.ts';
import { type Fault, isFault, type LineMeaning } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';
import { rowEnd } from './row-end.ts';
import { SourceClocks } from './source-clocks.ts';

export interface ForeignCsvDecoder {
  /** What is wrong with the header; where there is anything, `decode` refuses every row. */
  readonly refusals: readonly RefusedLine[];
  /** Columns of the file that the map does not name: they are left out, and should be named once. */
  readonly unmapped: readonly string[];
  /** States in no map, as `mode "X"`, and on how many rows: they were taken as absent. */
  readonly unknownStates: ReadonlyMap<string, number>;
  /**
   * @param bytes      whole rows after the header, in file order; the last one may lack its newline
   * @param firstLine  number of the first line of them in the file, from 1
   */
  decode(bytes: Uint8Array, firstLine: number): ReadingBatch;
}

function columnsOf(map: ColumnMap): string[] {
  const named = [map.site, ...map.sources.map(({ id }) => id)].flatMap((by) => ('fixed' in by ? [] : [by.column]));
  return [
    ...new Set([
      ...map.time.columns,
      ...named,
      ...map.sources.flatMap(({ values }) => values.map(({ column }) => column)),
    ]),
  ];
}

function headerFaults(map: ColumnMap, names: readonly string[]): Fault[] {
  return columnsOf(map).flatMap((column): Fault[] => {
    if (!names.includes(column)) {
      return [
        {
          what: `the header has no column ${quoteText(column)}`,
          remedy: `its columns are ${quoteText(names.join(', '))}: correct the map, its delimiter, encoding or skip_lines`,
        },
      ];
    }
    if (names.indexOf(column) === names.lastIndexOf(column)) return [];
    return [{ what: `the header has two columns ${quoteText(column)}`, remedy: 'give each column its own name' }];
  });
}

/**
 * Decodes a CSV of another form by its column map. Where the zone repeats an hour, see `resolveWalls`;
 * what it knows of each source's clock is carried from one call to the next.
 *
 * @param headerLine  bytes of the header, as `findHeader` gives them with the map's `form` and `skipLines`
 */
export function createForeignCsvDecoder(map: ColumnMap, headerLine: Uint8Array): ForeignCsvDecoder {
  const text = new TextDecoder(map.encoding);
  const strict = new TextDecoder(map.encoding, { fatal: true });
  const names = (splitCells(withoutLineEnd(text.decode(headerLine)), map.form.quotedCells) ?? []).map((name) =>
    name.trim(),
  );
  const faults = headerFaults(map, names);
  const builder = new BatchBuilder();
  const reader = new ForeignRows(map, names, faults[0] ?? null);
  const clocks = new SourceClocks(map);

  function openAll(bytes: Uint8Array, firstLine: number): (OpenRow | BadRow)[] {
    const rows: (OpenRow | BadRow)[] = [];
    let line = firstLine;
    for (let at = 0; at < bytes.length; ) {
      const end = rowEnd(bytes, at, map.form, true);
      const row = decodeRow((each) => strict.decode(each), bytes.subarray(at, end), map.encoding);
      if (typeof row !== 'string') rows.push({ line, fault: row });
      else if (row.trim() !== '') rows.push(reader.open(row, line));
      line += Math.max(1, typeof row === 'string' ? row.split('\n').length - 1 : 1);
      at = end;
    }
    return rows;
  }

  function meaningsOf(row: OpenRow | BadRow, instant: number): readonly LineMeaning[] | Fault {
    if ('fault' in row) return row.fault;
    return Number.isNaN(instant) ? clocks.gapFault(row) : reader.meanings(row, instant);
  }

  return {
    refusals: faults.map((fault) => ({ line: map.skipLines + 1, ...fault })),
    unmapped: names.filter((name) => !columnsOf(map).includes(name)),
    unknownStates: reader.unknownStates,
    decode(bytes, firstLine) {
      const rows = openAll(bytes, firstLine);
      const instants = clocks.resolve(rows);
      for (const [k, row] of rows.entries()) {
        const meanings = meaningsOf(row, instants[k]!);
        if (isFault(meanings)) {
          builder.refuse(row.line, meanings);
          continue;
        }
        builder.countLine();
        for (const meaning of meanings) builder.take(meaning);
      }
      return builder.finish();
    },
  };
}

function decodeRow(decode: (row: Uint8Array) => string, row: Uint8Array, encoding: string): string | Fault {
  if (encoding !== 'utf-16le' && row.includes(0))
    return {
      what: 'the row holds NUL bytes',
      remedy: 'it was cut by a power loss, or the file is UTF-16: then write encoding: utf-16le in the map',
    };
  try {
    return decode(row);
  } catch {
    return {
      what: `the row holds bytes that are not ${encoding}`,
      remedy: 'correct encoding in the map: windows-1252 and utf-8 are most common',
    };
  }
}
