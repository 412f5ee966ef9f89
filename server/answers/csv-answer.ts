/** CSV of a window, line for line what `kilter readings --csv` prints. */
import { intervalsOf } from '../../ingest/commands/interval-figures.ts';
import { intervalCsv, intervalHeader, readingCsv, readingHeader } from '../../ingest/commands/reading-lines.ts';
import { columnsPresent, intervalInputs, readingDays } from '../../ingest/commands/stored-readings.ts';
import type { ReadingStore, StoredSource } from '../../ingest/store/reading-store.ts';
import type { Column } from '../../ingest/vocabulary/quantities.ts';

export interface CsvAsked {
  readonly source: StoredSource;
  /** null: all that are there. */
  readonly columns: readonly Column[] | null;
  readonly from: number;
  readonly to: number;
  readonly everyMs: number | null;
}

/** Lines as they are read, a day at a time, each with its line end. */
export function* csvLines(store: ReadingStore, { source, columns, from, to, everyMs }: CsvAsked): Generator<string> {
  const window = { source: source.source, from, to };
  const all = columns ?? columnsPresent(store, source.kind, window);
  if (everyMs === null) {
    yield `${readingHeader(source, all)}\n`;
    for (const rows of readingDays(store, { ...window, columns: all }, false)) {
      if (rows.length > 0) yield `${rows.map((row) => readingCsv(source, all, row)).join('\n')}\n`;
    }
    return;
  }
  // Words have no mean.
  const averaged = all.filter(({ words }) => words === null);
  yield `${intervalHeader(source, averaged)}\n`;
  for (const interval of intervalsOf(intervalInputs(store, { ...window, columns: averaged }, everyMs), everyMs)) {
    yield `${intervalCsv(source, averaged, interval)}\n`;
  }
}
