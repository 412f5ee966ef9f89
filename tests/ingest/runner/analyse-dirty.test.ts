import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createDirtyAnalysis } from '../../../ingest/runner/analyse-dirty.ts';
import { createBoardReads } from '../../../ingest/store/board-reads.ts';
import { createDerivedStore } from '../../../ingest/store/derived-store.ts';
import { openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../ingest/store/reading-store.ts';
import { addLines, at, dropFolder, millpondLines, storeLines } from '../commands/_stored.ts';

let folder = '';
beforeEach(() => {
  folder = storeLines(millpondLines());
});
afterEach(() => dropFolder(folder));

const pause = () => Promise.resolve();
const never = () => false;

describe('createDirtyAnalysis', () => {
  test('judges what is there at once, what comes once it rests, and raises the change number for another answer only', async () => {
    const store = createReadingStore(openStore(folder));
    const derived = createDerivedStore(store.db);
    const failures: unknown[] = [];
    const analysis = createDirtyAnalysis(store, derived, createBoardReads(store.db), (_, error) =>
      failures.push(error),
    );
    const before = store.change();
    expect(await analysis.run(0, pause, never)).toBe(1);
    expect(derived.answer('millpond').events).toHaveLength(1);
    expect(store.change()).toBe(before + 1);
    expect(await analysis.run(11_000, pause, never)).toBe(0);
    expect(store.change()).toBe(before + 1);
    addLines(folder, [
      { t: at('10T12:00:00'), site: 'millpond', unit: 'u1', mode: 'grid', output_power_w: 900, output_voltage_v: 230 },
    ]);
    expect(await analysis.run(22_000, pause, never)).toBe(0);
    expect(await analysis.run(24_001, pause, never)).toBe(1);
    expect(failures).toEqual([]);
    store.db.close();
  });

  test('a site that fails keeps no other from its answer', async () => {
    const store = createReadingStore(openStore(folder));
    const derived = createDerivedStore(store.db);
    const failed: string[] = [];
    const broken = {
      ...store,
      siteDays: () => {
        throw new RangeError('broken');
      },
    };
    const analysis = createDirtyAnalysis(broken, derived, createBoardReads(store.db), (site) => failed.push(site));
    expect(await analysis.run(0, pause, never)).toBe(0);
    expect(failed).toEqual(['millpond']);
    store.db.close();
  });
});
