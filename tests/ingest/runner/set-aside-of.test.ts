import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createIntake } from '../../../ingest/intake/intake.ts';
import { setAsideOf } from '../../../ingest/runner/set-aside-of.ts';
import { type Db, openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../../ingest/store/reading-store.ts';
import { createNdjsonDecoder } from '../../../ingest/wire/ndjson.ts';

const T0 = Date.UTC(2026, 2, 2, 6);
const HOUR_MS = 3_600_000;

let folder = '';
let db: Db;
let store: ReadingStore;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-aside-'));
  db = openStore(folder);
  store = createReadingStore(db);
  const times = [0, 1, 40, 40 + 47, 500];
  const lines = times.map((h) =>
    JSON.stringify({ t: T0 + h * HOUR_MS, site: 'millpond', unit: 'u1', output_power_w: h }),
  );
  const intake = createIntake(store);
  intake.take(createNdjsonDecoder().decode(new TextEncoder().encode(`${lines.join('\n')}\n`), 1));
  intake.flush();
});
afterAll(() => {
  db.close();
  rmSync(folder, { recursive: true });
});
const hours = (asOfH: number | null): number[] =>
  setAsideOf(store, store.sources('millpond'), asOfH === null ? null : T0 + asOfH * HOUR_MS).setAside.map(
    ({ t }) => (t - T0) / HOUR_MS,
  );

describe('setAsideOf', () => {
  test('a reading is set aside while no other of its site lies within 48 h', () => {
    expect(hours(null)).toEqual([500]);
  });

  test('as of a time past, what came later keeps nothing company', () => {
    expect(hours(87)).toEqual([]);
    expect(hours(0)).toEqual([0]);
    expect(hours(0.5)).toEqual([0]);
  });
});
