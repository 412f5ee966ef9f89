/**
 * DuckDB in process, as far as the bench needs it. It is installed by tests/bench/run beside the bench and not with
 * the project, so what is used of it is written down here.
 */
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { BENCH_FOLDER } from './bench-data.ts';

type DuckItems = Int32Array<ArrayBuffer> | BigInt64Array<ArrayBuffer> | Float64Array<ArrayBuffer>;

interface DuckVector {
  readonly items: DuckItems;
  setItem(place: number, value: number | bigint | null): void;
  flush(): void;
}

interface DuckChunk {
  readonly rowCount: number;
  readonly columnCount: number;
  getColumnVector(column: number): DuckVector;
}

export interface DuckStatement {
  bindInteger(place: number, value: number): void;
  bindBigInt(place: number, value: bigint): void;
  run(): Promise<{ fetchAllChunks(): Promise<DuckChunk[]> }>;
}

export interface DuckConnection {
  run(sql: string): Promise<unknown>;
  prepare(sql: string): Promise<DuckStatement>;
  createAppender(table: string): Promise<{
    appendDataChunk(chunk: DuckChunk): void;
    closeSync(): void;
  }>;
  closeSync(): void;
}

export interface DuckModule {
  readonly INTEGER: unknown;
  readonly BIGINT: unknown;
  readonly version: () => string;
  readonly DuckDBDataChunk: { create(types: readonly unknown[], rowCount: number): DuckChunk };
  readonly DuckDBInstance: {
    create(
      path: string,
      options?: Readonly<Record<string, string>>,
    ): Promise<{ connect(): Promise<DuckConnection>; closeSync(): void }>;
  };
}

export async function loadDuck(): Promise<DuckModule> {
  const path = createRequire(join(BENCH_FOLDER, '.peers/package.json')).resolve('@duckdb/node-api');
  return (await import(pathToFileURL(path).href)) as DuckModule;
}

/** Runs a bound statement and gives each column as one typed array; absent values are left as DuckDB leaves them. */
export async function fetchColumns(statement: DuckStatement): Promise<DuckItems[]> {
  const chunks = await (await statement.run()).fetchAllChunks();
  const first = chunks[0];
  if (first === undefined) return [];
  const rows = chunks.reduce((sum, { rowCount }) => sum + rowCount, 0);
  return Array.from({ length: first.columnCount }, (_, column) => {
    const parts = chunks.map((chunk) => chunk.getColumnVector(column).items);
    return parts.length === 1 ? parts[0]! : joined(parts, rows);
  });
}

function joined(parts: readonly DuckItems[], rows: number): DuckItems {
  const first = parts[0]!;
  if (first instanceof BigInt64Array) return put(new BigInt64Array(rows), parts as BigInt64Array[]);
  const numbers = parts as (Int32Array | Float64Array)[];
  return first instanceof Int32Array ? put(new Int32Array(rows), numbers) : put(new Float64Array(rows), numbers);
}

function put<Part extends { readonly length: number }, All extends { set(part: Part, at: number): void }>(
  all: All,
  parts: readonly Part[],
): All {
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}
