/** What a data folder holds, as text that is equal for equal content. */
import { createHash } from 'node:crypto';
import type { Db } from '../../ingest/store/open-store.ts';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';

const hash = (value: unknown): string => createHash('sha256').update(JSON.stringify(value)).digest('hex').slice(0, 16);

function withStore<T>(folder: string, read: (db: Db) => T): T {
  const db = openStoreToRead(folder);
  try {
    return read(db);
  } finally {
    db.close();
  }
}

/**
 * The ground tables by name of source: ids follow the order of arrival. A block is shown by its length, the hash of
 * what it decodes to and the hash of its bytes, so that a difference names its day.
 */
export function groundText(folder: string): string[] {
  return withStore(folder, (db) => {
    const store = createReadingStore(db);
    const lines: string[] = [];
    for (const { source, site, kind, id } of store.sources()) {
      const name = `${site}/${kind}/${id}`;
      lines.push(name);
      const rows = db
        .prepare('SELECT day, readings, data, summary FROM blocks WHERE source = ? ORDER BY day')
        .all(source);
      for (const row of rows as { day: number; readings: number; data: Buffer; summary: Buffer }[]) {
        const day = store.readBlock(source, row.day * 86_400_000)!;
        const decoded = [[...day.tMs], day.columns.map((c) => c && [...c]), [...day.extras]];
        const bytes = [row.data.toString('hex'), row.summary.toString('hex')];
        lines.push(`${name} day ${row.day}: ${row.readings} readings ${hash(decoded)} ${hash(bytes)}`);
      }
      for (const table of ['claims', 'settings', 'alarms']) {
        const all = db.prepare(`SELECT * FROM ${table} WHERE source = ?`).all(source) as { source: number }[];
        for (const { source: _, ...row } of all) lines.push(`${name} ${table} ${JSON.stringify(row)}`);
      }
    }
    for (const row of db.prepare('SELECT site, day FROM site_days ORDER BY site, day').all())
      lines.push(JSON.stringify(row));
    for (const row of db.prepare('SELECT * FROM refusals ORDER BY file, line, what').all())
      lines.push(JSON.stringify(row));
    for (const row of db.prepare('SELECT site, seq, documents FROM site_records ORDER BY site, seq').all())
      lines.push(hash(row));
    return lines;
  });
}

/** What is left over of imports that have not ended. */
export const progressRows = (folder: string): unknown[] =>
  withStore(folder, (db) => db.prepare('SELECT * FROM import_progress').all());

/** Findings, events, what can't be told and, where asked for, the kept states, row for row. */
export function derivedText(folder: string, { withStates = true } = {}): string[] {
  return withStore(folder, (db) =>
    ['findings', 'events', 'cannot_tell', ...(withStates ? ['kept_states'] : [])].flatMap((table) =>
      (db.prepare(`SELECT * FROM ${table} ORDER BY 1, 2`).all() as Record<string, unknown>[]).map((row) => {
        const text = JSON.stringify(row);
        return table === 'kept_states' ? `${table} ${row.site} ${row.day} ${hash(text)}` : `${table} ${text}`;
      }),
    ),
  );
}
