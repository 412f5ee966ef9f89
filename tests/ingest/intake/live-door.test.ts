import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createLiveDoor, type LiveDoor } from '../../../ingest/intake/live-door.ts';
import { createBoardReads } from '../../../ingest/store/board-reads.ts';
import { openStore, openStoreToRead } from '../../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../../ingest/store/reading-store.ts';
import { createSealer } from '../../../ingest/store/sealer.ts';
import { querySql } from '../../../ingest/store/sql-view.ts';
import type { ReadingBatch } from '../../../ingest/vocabulary/reading.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../../ingest/wire/ndjson.ts';

const T = Date.UTC(2026, 2, 3, 10, 0, 0);
const DAY = Date.UTC(2026, 2, 3);

let folder = '';
let store: ReadingStore;
let reader: ReadingStore;
let door: LiveDoor;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-door-'));
  store = createReadingStore(openStore(folder));
  reader = createReadingStore(openStoreToRead(folder));
  door = createLiveDoor(store);
});
afterEach(() => {
  store.db.close();
  reader.db.close();
  rmSync(folder, { recursive: true });
});

function batch(...lines: readonly object[]): ReadingBatch {
  const text = lines.map((line) => `${JSON.stringify({ site: 'millpond', unit: 'u1', ...line })}\n`).join('');
  return createNdjsonDecoder().decode(Buffer.from(text), 1);
}

const powerAt = (t: number): number | undefined => {
  const block = reader.readBlock(reader.sources('millpond')[0]!.source, DAY);
  const place = block?.tMs.indexOf(t) ?? -1;
  return place < 0 ? undefined : block!.columns.find((column) => column !== undefined)?.[place];
};

const journalRows = (): number => (store.db.prepare('SELECT COUNT(*) AS n FROM journal').get() as { n: number }).n;

describe('the door for what comes live', () => {
  test('answers what was new, and another process sees it from then on', async () => {
    expect(await door.store(batch({ t: T, output_power_w: 100 }))).toEqual({ stored: 1, alreadyThere: 0 });
    expect(powerAt(T)).toBe(100);
    expect(reader.newestReading(1)).toBe(T);
    expect(createBoardReads(reader.db).sourceCounts(1)).toEqual({
      source: 1,
      readings: 1,
      days: 1,
      tFirst: T,
      tLast: T,
    });
  });

  test('takes batches offered together in one transaction, with one change number, and answers each for itself', async () => {
    const change = store.change();
    const counts = await Promise.all([
      door.store(batch({ t: T, output_power_w: 1 }, { t: T + 1, output_power_w: 2 })),
      door.store(batch({ t: T, output_power_w: 1 })),
      door.store(batch({ t: T, grid_power_w: 5 }, { t: T + 2, output_power_w: 3 })),
    ]);
    expect(counts).toEqual([
      { stored: 2, alreadyThere: 0 },
      { stored: 0, alreadyThere: 1 },
      { stored: 2, alreadyThere: 0 },
    ]);
    expect(store.change()).toBe(change + 1);
    expect(journalRows()).toBe(1);
  });

  test('bumps nothing for what is all there already', async () => {
    await door.store(batch({ t: T, output_power_w: 1 }));
    const change = store.change();
    expect(await door.store(batch({ t: T, output_power_w: 1 }))).toEqual({ stored: 0, alreadyThere: 1 });
    expect(store.change()).toBe(change);
    expect(journalRows()).toBe(1);
  });

  test('leaves a contested cell absent and lets a replacing line decide, before and after sealing', async () => {
    await door.store(batch({ t: T, output_power_w: 1 }));
    while (createSealer(store).sealAll(() => false));
    expect(await door.store(batch({ t: T, output_power_w: 2 }))).toEqual({ stored: 1, alreadyThere: 0 });
    expect(powerAt(T)).toBeUndefined();
    await door.store(batch({ t: T, output_power_w: 7, replaces: true }));
    expect(powerAt(T)).toBe(7);
    expect(reader.claims(1, T, T + 1).map(({ value, replaces }) => [value, replaces])).toEqual([
      ['1', false],
      ['2', false],
      ['7', true],
    ]);
    while (createSealer(store).sealAll(() => false));
    expect(powerAt(T)).toBe(7);
  });

  test('marks the day of late readings as changed, of the current hour and of days long past', async () => {
    await door.store(batch({ t: T, output_power_w: 1 }));
    const change = store.change();
    await door.store(batch({ t: T - 3 * 24 * HOUR_MS, output_power_w: 1 }, { t: T - 1000, output_power_w: 2 }));
    const days = [DAY - 3 * 24 * HOUR_MS, DAY];
    for (const isSealed of [false, true]) {
      expect(reader.siteDays('millpond')).toEqual(days);
      expect(reader.firstChangedDay('millpond', change)).toBe(days[0]);
      expect(reader.firstChangedDay('millpond', store.change())).toBe(null);
      expect(createBoardReads(reader.db).changedSites(change)).toEqual(['millpond']);
      expect(createBoardReads(reader.db).changedSites(store.change())).toEqual([]);
      if (!isSealed) while (createSealer(store).sealAll(() => false));
    }
    expect(powerAt(T - 1000)).toBe(2);
  });

  test('shows unsealed readings to SQL', async () => {
    await door.store(batch({ t: T, output_voltage_v: 229.8, mode: 'grid' }, { t: T + 1, output_voltage_v: 230 }));
    const rows = await querySql(reader, [], 'SELECT t, output_voltage_v, mode FROM unit_readings', async (answer) => [
      ...answer.rows,
    ]);
    expect(rows).toEqual([
      [T, 229.8, 'grid'],
      [T + 1, 230, null],
    ]);
  });

  test('stores the others of a group where one batch can not be stored', async () => {
    const broken = batch({ t: T + 5, output_power_w: 1 });
    broken.rows[4] = Number.NaN;
    const answers = await Promise.allSettled([
      door.store(batch({ t: T, output_power_w: 1 })),
      door.store(broken),
      door.store(batch({ t: T + 6, output_power_w: 3 })),
    ]);
    expect(answers.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
    expect([...reader.readBlock(1, DAY)!.tMs]).toEqual([T, T + 6]);
  });
});

describe('sealing', () => {
  test('is due once an hour, in bounded pieces, and empties the journal', async () => {
    const sealer = createSealer(store);
    const units = Array.from({ length: 40 }, (_, n) => ({ unit: `u${n}`, t: T, output_power_w: n }));
    await door.store(batch(...units));
    let pieces = 1;
    while (sealer.sealDue(T, () => false)) pieces++;
    expect(pieces).toBeGreaterThan(2);
    expect(journalRows()).toBe(0);
    await door.store(batch({ t: T + 1, output_power_w: 1 }));
    expect(sealer.sealDue(T + HOUR_MS / 2, () => false)).toBe(false);
    expect(journalRows()).toBe(1);
    sealer.sealDue(T + HOUR_MS, () => false);
    expect(journalRows()).toBe(0);
    expect(reader.heads(reader.sources('millpond').find(({ id }) => id === 'u1')!.source, DAY, DAY)[0]!.readings).toBe(
      2,
    );
  });

  test('changes nothing that was there to be read, and no change number', async () => {
    await door.store(batch({ t: T, output_power_w: 1, 'door open': { b: 1, a: 2 } }));
    const [change, before] = [store.change(), JSON.stringify([...reader.readBlocks(1, DAY, DAY)])];
    while (createSealer(store).sealAll(() => false));
    expect(store.change()).toBe(change);
    expect(JSON.stringify([...reader.readBlocks(1, DAY, DAY)])).toBe(before);
  });

  test('does nothing when it is told to stop', async () => {
    await door.store(batch({ t: T, output_power_w: 1 }));
    expect(createSealer(store).sealDue(T, () => true)).toBe(false);
    expect(journalRows()).toBe(1);
  });
});
