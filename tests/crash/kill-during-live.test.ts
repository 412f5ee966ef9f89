import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync, watch, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createPrng, type Prng } from '../../ingest/demo/prng.ts';
import { createIntake } from '../../ingest/intake/intake.ts';
import { openStore, openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { liveLines } from './_live-lines.ts';
import { groundText } from './_stored-text.ts';

const CHILD = fileURLToPath(new URL('./_journal-child.mjs', import.meta.url));
const KILLS = Number(process.env.KILTER_KILLS ?? 10);
const SEED = Number(process.env.KILTER_SEED ?? Date.now() % 1_000_000);
const KILLS_A_FOLDER = 5;
const BATCH_LINES = 15;
const LINES = 2400;
const BATCHES = LINES / BATCH_LINES;

let folder = '';
let file = '';
let lines: readonly string[];
let whole: readonly string[];
/** Transactions of an undisturbed run: journal, sealing and what else there is. */
let transactions = 0;
let wholeMs = 0;

interface LiveEnd {
  readonly answered: readonly number[];
  readonly isKilled: boolean;
  readonly transactions: number | null;
  readonly err: string;
}

interface LiveWork {
  readonly data: string;
  readonly batches: readonly number[];
  readonly killAt?: { readonly transaction: number; readonly when: 'before commit' | 'after commit' };
}

function startLive(work: LiveWork, answered: (batches: readonly number[]) => void = () => undefined) {
  const task = { ...work, lines: file, batchLines: BATCH_LINES, inFlight: 4, sealEvery: 6 };
  const child = spawn(process.execPath, [CHILD, JSON.stringify(task)], { stdio: ['ignore', 'pipe', 'pipe'] });
  let out = '';
  let err = '';
  const wholeLines = (): string[] =>
    out
      .slice(0, out.lastIndexOf('\n') + 1)
      .split('\n')
      .slice(0, -1);
  const numbers = (): number[] =>
    wholeLines()
      .filter((line) => !line.startsWith('end'))
      .map(Number);
  child.stdout.setEncoding('utf8').on('data', (text: string) => {
    out += text;
    answered(numbers());
  });
  child.stderr.setEncoding('utf8').on('data', (text: string) => {
    err += text;
  });
  const end = new Promise<LiveEnd>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', (_, signal) => {
      const last = /^end (\d+)$/m.exec(out)?.[1];
      resolve({
        answered: numbers(),
        isKilled: signal === 'SIGKILL',
        transactions: last === undefined ? null : Number(last),
        err,
      });
    });
  });
  return { child, end };
}

const allBatches = Array.from({ length: BATCHES }, (_, n) => n);

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-live-'));
  file = join(folder, 'lines.ndjson');
  lines = liveLines(11, LINES);
  writeFileSync(file, `${lines.join('\n')}\n`);
  const imported = join(folder, 'imported');
  const db = openStore(imported);
  const intake = createIntake(createReadingStore(db));
  const batch = createNdjsonDecoder().decode(Buffer.from(`${lines.join('\n')}\n`), 1);
  expect(batch.refused).toEqual([]);
  intake.take(batch);
  intake.flush();
  db.close();
  whole = groundText(imported);
  const startedMs = performance.now();
  const end = await startLive({ data: join(folder, 'undisturbed'), batches: allBatches }).end;
  wholeMs = performance.now() - startedMs;
  expect(end.err).toBe('');
  transactions = end.transactions!;
}, 120_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const keyOf = (line: string): string => {
  const { t, site, unit, pack } = JSON.parse(line) as { t: number; site: string; unit?: string; pack?: string };
  return `${site}/${unit ?? pack} ${t}`;
};

/** Keys of the readings of batches; settings and alarms are none. */
function keysIn(batches: readonly number[]): Set<string> {
  const own = batches.flatMap((n) => lines.slice(n * BATCH_LINES, (n + 1) * BATCH_LINES));
  return new Set(own.filter((line) => !/"(settings|alarm)":/.test(line)).map(keyOf));
}

/** Keys of all that a folder holds, as another process reads them now. */
function keysStored(data: string): Set<string> {
  const db = openStoreToRead(data);
  try {
    const store = createReadingStore(db);
    const keys = new Set<string>();
    for (const { source, site, id } of store.sources()) {
      const blocks = [...store.readBlocks(source, T_MIN_MS, T_MAX_MS, { columns: new Set(), extras: false })];
      for (const { tMs } of blocks) for (const t of tMs) keys.add(`${site}/${id} ${t}`);
    }
    return keys;
  } finally {
    db.close();
  }
}

function expectAnswered(data: string, answered: readonly number[], about: string): void {
  if (answered.length === 0) return;
  const stored = keysStored(data);
  expect(
    [...keysIn(answered)].filter((key) => !stored.has(key)),
    about,
  ).toEqual([]);
}

async function killed(data: string, batches: readonly number[], prng: Prng): Promise<LiveEnd> {
  const way = prng.whole(0, 3);
  if (way <= 1) {
    const transaction = prng.whole(1, Math.ceil((transactions * batches.length) / BATCHES / 2));
    const when = prng.chance(0.5) ? 'before commit' : 'after commit';
    return startLive({ data, batches, killAt: { transaction, when } }).end;
  }
  const { child, end } = startLive({ data, batches });
  if (way === 2) {
    let writes = prng.whole(1, transactions * 3);
    const wal = join(relative(folder, data), 'readings.sqlite-wal');
    const watcher = watch(folder, { recursive: true }, (_, name) => {
      if (name === wal && --writes === 0) child.kill('SIGKILL');
    });
    return end.finally(() => watcher.close());
  }
  const timer = setTimeout(() => child.kill('SIGKILL'), prng.between(0.3, 1) * wholeMs);
  return end.finally(() => clearTimeout(timer));
}

/** Kills and goes on with what was not answered, until all is. @returns how many kills */
async function round(prng: Prng, data: string, about: string): Promise<number> {
  let left: readonly number[] = allBatches;
  let kills = 0;
  while (left.length > 0 && kills < KILLS_A_FOLDER) {
    const end = await killed(data, left, prng);
    expect(end.err, about).toBe('');
    if (end.isKilled) kills++;
    expectAnswered(data, end.answered, about);
    const done = new Set(end.answered);
    left = left.filter((n) => !done.has(n));
    if (!end.isKilled) expect(left, about).toEqual([]);
  }
  const end = await startLive({ data, batches: left }).end;
  expect(end.err, about).toBe('');
  expect(groundText(data), about).toEqual(whole);
  rmSync(data, { recursive: true });
  return kills;
}

describe('a process that stores what comes live', () => {
  test('leaves the tables that one import leaves when nobody disturbs it', () => {
    expect(groundText(join(folder, 'undisturbed'))).toEqual(whole);
    expect(transactions).toBeGreaterThan(40);
    for (const table of ['claims', 'settings', 'alarms']) {
      expect(whole.filter((line) => line.includes(` ${table} `)).length, table).toBeGreaterThan(10);
    }
  });

  test(
    'loses and doubles nothing that it answered for, wherever it is killed',
    async () => {
      let kills = 0;
      for (let n = 0; kills < KILLS; n++) {
        const about = `KILTER_SEED=${SEED}, round ${n}`;
        kills += await round(createPrng(SEED, `live round ${n}`), join(folder, `round-${n}`), about);
        console.log(`${kills} kills in ${n + 1} folders, KILTER_SEED=${SEED}`);
      }
    },
    Math.max(240_000, KILLS * 15_000),
  );

  test('is seen at once by a process that reads, also while it seals', async () => {
    const data = join(folder, 'watched');
    let looks = 0;
    const seen: string[] = [];
    const { end } = startLive({ data, batches: allBatches }, (answered) => {
      const stored = keysStored(data);
      const missing = [...keysIn(answered)].filter((key) => !stored.has(key));
      if (missing.length > 0) seen.push(`${answered.length} answered: ${missing.join(', ')}`);
      looks++;
    });
    expect((await end).err).toBe('');
    expect(seen).toEqual([]);
    expect(looks).toBeGreaterThan(3);
    expect(keysStored(data)).toEqual(keysIn(allBatches));
  });

  test('shows a reader that stays open what others store and seal', async () => {
    const data = join(folder, 'open');
    openStore(data).close();
    const db = openStoreToRead(data);
    const store = createReadingStore(db);
    let most = 0;
    const fallen: number[] = [];
    const { end } = startLive({ data, batches: allBatches }, () => {
      const readings = store
        .sources()
        .reduce(
          (sum, { source }) => sum + store.heads(source, T_MIN_MS, T_MAX_MS).reduce((n, h) => n + h.readings, 0),
          0,
        );
      if (readings < most) fallen.push(readings);
      most = Math.max(most, readings);
    });
    await end;
    const last = store
      .sources()
      .flatMap(({ source }) => store.heads(source, T_MIN_MS, T_MAX_MS))
      .reduce((n, { readings }) => n + readings, 0);
    db.close();
    expect(fallen).toEqual([]);
    expect(last).toBe(keysIn(allBatches).size);
  });
});
