/** One fleet stored twice, by Kilter and in DuckDB, for the parts that compare the two. */
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../ingest/store/reading-store.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { benchData, freshFolder } from './bench-data.ts';
import type { BenchRun } from './bench-run.ts';
import { type DuckConnection, loadDuck } from './duck-peer.ts';
import { copyAsDouble, fillDuck } from './duck-tables.ts';
import { importInChild } from './run-child.ts';

export interface StoredFleet {
  readonly words: string;
  readonly folder: string;
  readonly store: ReadingStore;
  readonly duck: DuckConnection;
  readonly duckName: string;
  readonly duckFile: string;
  readonly duckDoubleFile: string;
  readonly rows: number;
  /** Values that are present, times not counted. */
  readonly samples: number;
  close(): void;
}

export async function storeFleet({ sizes, say }: BenchRun): Promise<StoredFleet> {
  const data = await benchData({ ...sizes.store, format: 'ndjson', gzip: false }, say);
  const folder = await freshFolder('store');
  await importInChild({ data: folder, sites: [data.sitesFile], columns: null, paths: [data.logs] });
  const store = createReadingStore(openStoreToRead(folder));
  let rows = 0;
  let samples = 0;
  for (const { source } of store.sources()) {
    for (const { readings, columns } of store.summaries(source, T_MIN_MS, T_MAX_MS)) {
      rows += readings;
      for (const { count } of columns) samples += count;
    }
  }
  say(`filling DuckDB with ${rows.toLocaleString('en')} rows`);
  const duckFolder = await freshFolder('duck');
  const duckFile = join(duckFolder, 'integers.duckdb');
  const duckDoubleFile = join(duckFolder, 'doubles.duckdb');
  const duckModule = await loadDuck();
  const instance = await duckModule.DuckDBInstance.create(duckFile, { storage_compatibility_version: 'latest' });
  const duck = await instance.connect();
  await fillDuck(duckModule, duck, store);
  await copyAsDouble(duck, store, duckDoubleFile);
  return {
    words: `${data.words.replace(', ndjson', '')}, ${rows.toLocaleString('en')} rows, ${samples.toLocaleString('en')} samples`,
    folder,
    store,
    duck,
    duckName: `DuckDB ${duckModule.version()}`,
    duckFile,
    duckDoubleFile,
    rows,
    samples,
    close() {
      duck.closeSync();
      instance.closeSync();
      store.db.close();
    },
  };
}

export async function bytesOf(paths: readonly string[]): Promise<number> {
  const stats = await Promise.all(paths.map((path) => stat(path)));
  return stats.reduce((sum, { size }) => sum + size, 0);
}
