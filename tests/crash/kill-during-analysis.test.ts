import { cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createPrng } from '../../ingest/demo/prng.ts';
import { writeDemo } from '../../ingest/demo/write-demo.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { type ChildWork, runChild, startChild } from './_start-child.ts';
import { derivedText } from './_stored-text.ts';

const SEED = Number(process.env.KILTER_SEED ?? Date.now() % 1_000_000);
/** KILTER_KILLS raises it, as for imports. */
const KILLS = Math.max(16, Math.round(Number(process.env.KILTER_KILLS ?? 0) / 3));

/** Sites of the demo fleet with findings. */
const SITES = /mill-lane-shop|ford-pharmacy|upper-tessel-dairy/;

let folder = '';
/** All but the last days imported and analysed; then the rest imported: what the next analysis finds. */
let half = '';
let whole: readonly string[];
let wholeMs = 0;
const analyse = (data: string): ChildWork => ({ work: 'analyse', data });

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-kill-analysis-'));
  const demo = await writeDemo({
    out: join(folder, 'demo'),
    seed: 11,
    from: epochMs(Date.UTC(2026, 2, 2)),
    days: 14,
    everyS: 300,
    sites: 12,
    say: () => undefined,
  });
  const files = demo.files.filter((path) => SITES.test(path));
  half = join(folder, 'half');
  const isLate = (path: string): boolean => /2026-03-(06|1[3-9])/.test(path);
  const imported = (data: string, paths: readonly string[]) =>
    runChild({ work: 'import', data, sites: [demo.sitesFile], paths });
  await imported(
    half,
    files.filter((path) => !isLate(path)),
  );
  await runChild(analyse(half));
  await imported(half, files.filter(isLate));
  cpSync(half, join(folder, 'whole'), { recursive: true });
  const startedMs = performance.now();
  const end = await runChild(analyse(join(folder, 'whole')));
  wholeMs = performance.now() - startedMs;
  expect(end.err).toBe('');
  whole = derivedText(join(folder, 'whole'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe('an analysis that is killed', () => {
  test('the fleet has findings, events and kept states to lose', () => {
    for (const table of ['findings', 'events', 'kept_states'])
      expect(whole.filter((line) => line.startsWith(`${table} `)).length, table).toBeGreaterThan(1);
  });

  test(
    'is followed by one that says the same, byte for byte, as if nothing had happened',
    async () => {
      const prng = createPrng(SEED, 'kills of an analysis');
      let kills = 0;
      for (let round = 0; kills < KILLS; round++) {
        const data = join(folder, `round-${round}`);
        cpSync(half, data, { recursive: true });
        for (let n = 0; n < 4 && kills < KILLS; n++) {
          const when = prng.chance(0.5) ? ('before commit' as const) : ('after commit' as const);
          const isAtCommit = prng.chance(0.4);
          const killAt = isAtCommit ? { killAt: { transaction: prng.whole(1, 3), when } } : {};
          const { child, end } = startChild({ ...analyse(data), ...killAt });
          const timer = isAtCommit ? null : setTimeout(() => child.kill('SIGKILL'), prng.between(0.2, 1) * wholeMs);
          if ((await end).isKilled) kills++;
          if (timer !== null) clearTimeout(timer);
        }
        const last = await runChild(analyse(data));
        expect(last.err, `KILTER_SEED=${SEED}, round ${round}`).toBe('');
        expect(derivedText(data), `KILTER_SEED=${SEED}, round ${round}`).toEqual(whole);
        rmSync(data, { recursive: true });
      }
      console.log(`${kills} kills of an analysis, seed ${SEED}`);
    },
    Math.max(120_000, KILLS * 5000),
  );
});

describe('derived tables', () => {
  test('come back byte for byte after they were dropped', async () => {
    const data = join(folder, 'dropped');
    cpSync(join(folder, 'whole'), data, { recursive: true });
    const db = openStore(data);
    createDerivedStore(db).drop();
    db.close();
    expect(derivedText(data)).toEqual([]);
    await runChild(analyse(data));
    expect(derivedText(data)).toEqual(whole);
  });
});
