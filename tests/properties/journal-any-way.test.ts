import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createIntake, type IntakeCounts } from '../../ingest/intake/intake.ts';
import { createLiveDoor } from '../../ingest/intake/live-door.ts';
import { createBoardReads } from '../../ingest/store/board-reads.ts';
import { type Db, openStore, openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../ingest/store/reading-store.ts';
import { createSealer } from '../../ingest/store/sealer.ts';
import { COLUMNS } from '../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { groundOf, line, settingsLine } from './_meeting-lines.ts';

let folder = '';
/** Two writers, as a worker and a server are, and a reader that only looks. */
let writers: readonly [Db, Db];
let reader: Db;
let sites = 0;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-any-way-'));
  writers = [openStore(folder), openStore(folder)];
  for (const db of writers) db.pragma('synchronous = OFF');
  reader = openStoreToRead(folder);
});
afterAll(() => {
  for (const db of [...writers, reader]) db.close();
  rmSync(folder, { recursive: true });
});

function decoded(lines: readonly string[], site: string): ReadingBatch {
  const text = lines.map((one) => `${one.replace('"millpond"', `"${site}"`)}\n`).join('');
  const batch = createNdjsonDecoder().decode(Buffer.from(text), 1);
  expect(batch.refused).toEqual([]);
  return batch;
}

type Step =
  | { readonly way: 'import' | 'live'; readonly writer: number; readonly pieces: readonly (readonly string[])[] }
  | { readonly way: 'seal'; readonly pieces: number };

/** @returns the sum of the counts */
async function walk(site: string, steps: readonly Step[]): Promise<IntakeCounts> {
  const stores = writers.map(createReadingStore);
  const doors = stores.map(createLiveDoor);
  const sealer = createSealer(stores[0]!);
  const counts: IntakeCounts[] = [];
  for (const step of steps) {
    if (step.way === 'seal') {
      for (let piece = 0; piece < step.pieces && sealer.sealAll(() => false); piece++);
    } else if (step.way === 'live') {
      const door = doors[step.writer]!;
      counts.push(...(await Promise.all(step.pieces.map((lines) => door.store(decoded(lines, site))))));
    } else {
      const intake = createIntake(stores[step.writer]!);
      for (const lines of step.pieces) intake.take(decoded(lines, site));
      counts.push(intake.flush());
    }
  }
  return {
    stored: counts.reduce((sum, { stored }) => sum + stored, 0),
    alreadyThere: counts.reduce((sum, { alreadyThere }) => sum + alreadyThere, 0),
  };
}

/** Everything that can be asked of a site's readings; change numbers differ with the way. */
function readsOf(db: Db, site: string): string {
  const store = createReadingStore(db);
  const board = createBoardReads(db);
  const sources = store.sources(site).map(({ source, kind, id }) => {
    const { source: _, ...counts } = board.sourceCounts(source) ?? { source: 0 };
    const own = [
      ...store.readBlocks(source, T_MIN_MS, T_MAX_MS, { divisors: COLUMNS[kind].map((c) => 10 ** c.decimals) }),
    ];
    const one = [...store.readBlocks(source, T_MIN_MS, T_MAX_MS, { columns: new Set([6]), extras: false })];
    return {
      kind,
      id,
      counts,
      heads: store.heads(source, T_MIN_MS, T_MAX_MS).map(({ source: _, ...head }) => head),
      summaries: store.summaries(source, T_MIN_MS, T_MAX_MS),
      newest: store.newestReading(source),
      own: own.map(({ tMs, columns, extras }) => [[...tMs], columns.map((c) => c && [...c]), [...extras]]),
      one: one.map(({ tMs, columns, extras }) => [[...tMs], columns.map((c) => c && [...c]), extras.size]),
    };
  });
  return JSON.stringify({ sources, days: store.siteDays(site), first: store.firstChangedDay(site, 0) });
}

function blocksOf(store: ReadingStore, site: string): string {
  return store
    .sources(site)
    .flatMap(({ source, kind, id }) =>
      store.db
        .prepare<[number], { day: number; data: Buffer; summary: Buffer }>(
          'SELECT day, data, summary FROM blocks WHERE source = ? ORDER BY day',
        )
        .all(source)
        .map(({ day, data, summary }) => `${kind} ${id} ${day} ${data.toString('hex')} ${summary.toString('hex')}`),
    )
    .join('\n');
}

const steps = fc.array(
  fc.oneof(
    {
      weight: 4,
      arbitrary: fc.record({
        way: fc.constantFrom<'import' | 'live'>('live', 'live', 'import'),
        writer: fc.nat(1),
        pieces: fc.array(
          fc.array(fc.oneof({ weight: 8, arbitrary: line }, { weight: 1, arbitrary: settingsLine }), {
            minLength: 1,
            maxLength: 5,
          }),
          { minLength: 1, maxLength: 4 },
        ),
      }),
    },
    { weight: 1, arbitrary: fc.record({ way: fc.constant<'seal'>('seal'), pieces: fc.integer({ min: 1, max: 3 }) }) },
  ),
  { minLength: 1, maxLength: 10 },
);

const sealAll: Step = { way: 'seal', pieces: Number.POSITIVE_INFINITY };

describe('what is stored does not depend on the way by which it came', () => {
  test('journal, import and sealing in any order by two writers leave what one import leaves, and count the same', async () => {
    let unsealed = 0;
    let contradictions = 0;
    await fc.assert(
      fc.asyncProperty(steps, async (walked) => {
        const lines = walked.flatMap((step) => (step.way === 'seal' ? [] : step.pieces.flat()));
        if (lines.length === 0) return;
        await walk('', [sealAll]);
        const [imported, mixed] = [`site-${++sites}`, `site-${++sites}`];
        const inOne = await walk(imported, [{ way: 'import', writer: 0, pieces: [lines] }]);
        expect(await walk(mixed, walked)).toEqual(inOne);

        const ground = groundOf(writers[0], imported);
        const before = readsOf(reader, mixed);
        if (reader.prepare('SELECT 1 FROM journal').all().length > 0) unsealed++;
        expect(groundOf(reader, mixed)).toBe(ground);
        expect(before).toBe(readsOf(writers[1], imported));
        await walk('', [sealAll]);
        expect(reader.prepare('SELECT 1 FROM journal').all()).toEqual([]);
        expect(groundOf(reader, mixed)).toBe(ground);
        expect(readsOf(reader, mixed)).toBe(before);
        const store = createReadingStore(writers[0]);
        expect(blocksOf(store, mixed)).toBe(blocksOf(store, imported));
        if (ground.includes('"replaces":false')) contradictions++;
      }),
      { numRuns: Number(process.env.KILTER_RUNS ?? 120) },
    );
    expect(unsealed).toBeGreaterThan(30);
    expect(contradictions).toBeGreaterThan(20);
  }, 120_000);
});
