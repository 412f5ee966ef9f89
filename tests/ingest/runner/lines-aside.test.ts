import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createIntake } from '../../../ingest/intake/intake.ts';
import { linesAside } from '../../../ingest/runner/lines-aside.ts';
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
  folder = mkdtempSync(join(tmpdir(), 'kilter-lines-'));
  db = openStore(folder);
  store = createReadingStore(db);
  const line = (h: number, more: object): string =>
    JSON.stringify({ t: T0 + h * HOUR_MS, site: 'millpond', unit: 'u1', ...more });
  const lines = [
    ...[0, 1, 40].map((h) => line(h, { output_power_w: h })),
    line(0, { settings: { battery_type: 'lithium' } }),
    line(40 + 47, { settings: { battery_type: 'lithium' } }),
    line(40 + 200, { settings: { battery_type: 'lead' } }),
    line(1000, { alarm: 'over temperature', state: 'raised' }),
    line(2000, { settings: { battery_type: 'lead' } }),
    line(2020, { alarm: 'over temperature', state: 'cleared' }),
    line(3000, { output_power_w: 1 }),
    line(3000, { settings: { battery_type: 'lead' } }),
  ];
  const intake = createIntake(store);
  intake.take(createNdjsonDecoder().decode(new TextEncoder().encode(`${lines.join('\n')}\n`), 1));
  intake.flush();
});
afterAll(() => {
  db.close();
  rmSync(folder, { recursive: true });
});

const hours = (asOfH: number | null): number[] => {
  const asOf = asOfH === null ? null : T0 + asOfH * HOUR_MS;
  const sources = store.sources('millpond');
  const aside = setAsideOf(store, sources, asOf);
  return linesAside(store, 'millpond', sources, aside, asOf).map(({ t }) => (t - T0) / HOUR_MS);
};

describe('linesAside', () => {
  test('settings and alarms are set aside while no reading and no other line of their site lies within 48 h', () => {
    expect(hours(null)).toEqual([240, 1000, 3000]);
  });

  test('as of a time past, what came later keeps no line company', () => {
    expect(hours(2000)).toEqual([240, 1000, 2000]);
    expect(hours(87)).toEqual([]);
  });
});
