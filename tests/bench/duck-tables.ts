/**
 * The rows of a store in DuckDB, as one would keep them there with care: a wide table a source kind, the stored
 * integers as INTEGER (BIGINT where they need it), sorted by source and time, checkpointed.
 */
import type { ReadingStore } from '../../ingest/store/reading-store.ts';
import { COLUMNS, type Column, SOURCE_KINDS, type SourceKind } from '../../ingest/vocabulary/quantities.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import type { DuckConnection, DuckModule } from './duck-peer.ts';

/** Rows that one of DuckDB's vectors holds. */
const CHUNK_ROWS = 2048;
const INT_MAX = 2 ** 31 - 1;

/** A column that some reading has, and whether it needs 64 bits. */
export interface KeptColumn {
  readonly column: Column;
  readonly isWide: boolean;
}

export function keptColumns(store: ReadingStore, kind: SourceKind): readonly KeptColumn[] {
  const largest = new Map<number, number>();
  for (const { source } of store.sources().filter((one) => one.kind === kind)) {
    for (const { columns } of store.summaries(source, T_MIN_MS, T_MAX_MS)) {
      for (const { column, min, max } of columns) {
        largest.set(column, Math.max(largest.get(column) ?? 0, Math.abs(min), Math.abs(max)));
      }
    }
  }
  return COLUMNS[kind]
    .filter(({ index }) => largest.has(index))
    .map((column) => ({ column, isWide: largest.get(column.index)! > INT_MAX }));
}

export async function fillDuck(duck: DuckModule, connection: DuckConnection, store: ReadingStore): Promise<void> {
  await connection.run('CREATE TABLE sources (source INTEGER, site VARCHAR, kind VARCHAR, name VARCHAR)');
  for (const { source, site, kind, id } of store.sources()) {
    await connection.run(`INSERT INTO sources VALUES (${source}, '${site}', '${kind}', '${id}')`);
  }
  for (const kind of SOURCE_KINDS) {
    const kept = keptColumns(store, kind);
    if (kept.length > 0) await fillKind(duck, connection, store, kind, kept);
  }
  await connection.run('CHECKPOINT');
}

async function fillKind(
  duck: DuckModule,
  connection: DuckConnection,
  store: ReadingStore,
  kind: SourceKind,
  kept: readonly KeptColumn[],
): Promise<void> {
  const columns = kept.map(({ column, isWide }) => `${column.id} ${isWide ? 'BIGINT' : 'INTEGER'}`);
  await connection.run(`CREATE TABLE ${kind}_readings (source INTEGER, t BIGINT, ${columns.join(', ')})`);
  const types = [duck.INTEGER, duck.BIGINT, ...kept.map(({ isWide }) => (isWide ? duck.BIGINT : duck.INTEGER))];
  const appender = await connection.createAppender(`${kind}_readings`);
  const sources = store.sources().filter((one) => one.kind === kind);
  for (const { source } of sources.sort((a, b) => a.source - b.source)) {
    for (const { tMs, columns: values } of store.readBlocks(source, T_MIN_MS, T_MAX_MS, { extras: false })) {
      for (let from = 0; from < tMs.length; from += CHUNK_ROWS) {
        const rows = Math.min(CHUNK_ROWS, tMs.length - from);
        const chunk = duck.DuckDBDataChunk.create(types, rows);
        const put = (place: number, valueAt: (row: number) => number | bigint | null): void => {
          const vector = chunk.getColumnVector(place);
          for (let row = 0; row < rows; row++) vector.setItem(row, valueAt(from + row));
          vector.flush();
        };
        put(0, () => source);
        put(1, (row) => BigInt(tMs[row]!));
        kept.forEach(({ column, isWide }, i) => {
          const one = values[column.index];
          put(i + 2, (row) => {
            const value = one?.[row] ?? Number.NaN;
            return Number.isNaN(value) ? null : isWide ? BigInt(value) : value;
          });
        });
        appender.appendDataChunk(chunk);
      }
    }
  }
  appender.closeSync();
}

/** The same rows in the quantities' own units, as DOUBLE, in another file. For information: it is what one writes first. */
export async function copyAsDouble(connection: DuckConnection, store: ReadingStore, path: string): Promise<void> {
  await connection.run(`ATTACH '${path}' AS doubles`);
  await connection.run('SET preserve_insertion_order = true');
  for (const kind of SOURCE_KINDS) {
    const kept = keptColumns(store, kind);
    if (kept.length === 0) continue;
    const columns = kept.map(({ column: { id, decimals } }) => `CAST(${id} AS DOUBLE) / ${10 ** decimals} AS ${id}`);
    await connection.run(
      `CREATE TABLE doubles.${kind}_readings AS SELECT source, t, ${columns.join(', ')} FROM ${kind}_readings ORDER BY source, t`,
    );
  }
  await connection.run('CHECKPOINT doubles');
  await connection.run('DETACH doubles');
}
