import { cpSync, mkdtempSync, rmSync, watch } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createPrng, type Prng } from '../../ingest/demo/prng.ts';
import { type MixedLogs, writeMixedLogs } from './_mixed-logs.ts';
import { type ChildEnd, type ChildWork, runChild, startChild } from './_start-child.ts';
import { groundText, progressRows } from './_stored-text.ts';

/** KILTER_KILLS raises it to any number; the time allowed grows with it. */
const KILLS = Number(process.env.KILTER_KILLS ?? 60);
/** Without it a slow machine may stop earlier: each round is a proof by itself. */
const MOST_MS = process.env.KILTER_KILLS === undefined ? 90_000 : Number.POSITIVE_INFINITY;
const FEWEST = process.env.KILTER_KILLS === undefined ? 15 : KILLS;
const SEED = Number(process.env.KILTER_SEED ?? Date.now() % 1_000_000);
const KILLS_A_FOLDER = 12;
/** So small that every piece of a file is a transaction. */
const PENDING_MAX_BYTES = 40_000;

let folder = '';
let mixed: MixedLogs;
let whole: readonly string[];
let wholeEnd: ChildEnd;
/** About how long an import takes now: a kill later than that meets nobody. */
let wholeMs = 0;
const work = (data: string): ChildWork => ({
  work: 'import',
  data,
  sites: [mixed.sitesFile],
  paths: [mixed.logs],
  pendingMaxBytes: PENDING_MAX_BYTES,
});

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-kill-'));
  mixed = await writeMixedLogs(folder, { seed: 7, sites: 2, days: 3, everyS: 300, files: 8 });
  const startedMs = performance.now();
  wholeEnd = await runChild(work(join(folder, 'whole')));
  wholeMs = performance.now() - startedMs;
  whole = groundText(join(folder, 'whole'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const counts = ({ summary }: ChildEnd) => {
  const { files, lines, stored, already_there, refused } = summary!;
  return { files, lines, stored, already_there, refused };
};

/** Kills imports into one folder until one comes to its end, or so many were killed. @returns how many */
async function round(prng: Prng, data: string, most: number, about: string): Promise<number> {
  let kills = 0;
  let end: ChildEnd | null = null;
  while (end === null && kills < most) {
    const next = await killedImport(data, prng);
    if (next.isKilled) kills++;
    else end = next;
  }
  end ??= await runChild(work(data));
  expect(end.err, about).not.toContain('unexpected');
  expect(end.exitCode, about).toBe(2);
  expect(groundText(data), about).toEqual(whole);
  // A run that was killed when all was done and before it could say so is followed by one that finds all there.
  const { lines, refused, files } = counts(wholeEnd);
  const nothingNew = { files, lines, stored: 0, already_there: lines! - refused!, refused };
  expect([counts(wholeEnd), nothingNew], about).toContainEqual(counts(end));
  expect(progressRows(data), about).toEqual([]);
  rmSync(data, { recursive: true });
  return kills;
}

/** Starts an import and kills it: after a while, while the log of the database is written, or at a commit. */
async function killedImport(data: string, prng: Prng): Promise<ChildEnd> {
  const way = prng.whole(0, 3);
  if (way === 0) {
    const transaction = prng.whole(1, 20);
    const when = prng.chance(0.5) ? 'before commit' : 'after commit';
    return startChild({ ...work(data), killAt: { transaction, when } }).end;
  }
  const { child, end } = startChild(work(data));
  if (way === 1) {
    let writes = prng.whole(1, 60);
    const wal = join(relative(folder, data), 'readings.sqlite-wal');
    const watcher = watch(folder, { recursive: true }, (_, name) => {
      if (name === wal && --writes === 0) child.kill('SIGKILL');
    });
    return end.finally(() => watcher.close());
  }
  const timer = setTimeout(() => child.kill('SIGKILL'), prng.between(0.1, 1) * wholeMs);
  const ended = await end.finally(() => clearTimeout(timer));
  // The machine may be busier or idler than when the whole import was timed.
  wholeMs *= ended.isKilled ? 1.03 : 0.8;
  return ended;
}

describe('an import that is killed', () => {
  test('the undisturbed import takes every line once, in many transactions', () => {
    expect(wholeEnd.err).not.toContain('unexpected');
    expect(wholeEnd.exitCode).toBe(2);
    expect(wholeEnd.summary).toMatchObject({ lines: mixed.lines, refused: mixed.refused });
    expect(wholeEnd.summary!.stored! + wholeEnd.summary!.already_there! + mixed.refused).toBe(mixed.lines);
    expect(wholeEnd.summary!.already_there).toBeGreaterThan(100);
    expect(wholeEnd.summary!.transactions).toBeGreaterThan(15);
    expect(whole.filter((line) => line.includes(' claims ')).length).toBeGreaterThan(100);
    expect(whole.filter((line) => line.includes(' settings ')).length).toBeGreaterThan(10);
    expect(whole.filter((line) => line.includes(' alarms ')).length).toBeGreaterThan(10);
    expect(progressRows(join(folder, 'whole'))).toEqual([]);
  });

  test(
    'leaves nothing lost, doubled or half, however often it is killed, and counts every line once',
    async () => {
      const startedMs = performance.now();
      let kills = 0;
      let rounds = 0;
      const lane = async (): Promise<void> => {
        while (kills < KILLS && performance.now() - startedMs < MOST_MS) {
          const n = rounds++;
          const about = `KILTER_SEED=${SEED}, round ${n}`;
          const more = await round(createPrng(SEED, `round ${n}`), join(folder, `round-${n}`), KILLS_A_FOLDER, about);
          // Only now: the other lane has counted meanwhile.
          kills += more;
          console.log(`${kills} kills in ${n + 1} folders, KILTER_SEED=${SEED}`);
        }
      };
      await Promise.all([lane(), lane()]);
      expect(kills).toBeGreaterThanOrEqual(FEWEST);
    },
    Math.max(240_000, KILLS * 10_000),
  );

  test('says at which line it goes on, and what the broken run stored whole', async () => {
    const data = join(folder, 'resumed');
    const { end } = startChild({ ...work(data), killAt: { transaction: 12, when: 'after commit' } });
    expect((await end).isKilled).toBe(true);
    const resumed = await runChild(work(data));
    expect(resumed.err).toMatch(/part-00\.ndjson\.gz: stored by the run that was broken off/);
    expect(resumed.err).toMatch(/part-\d\d\.ndjson(\.gz|\.zst): goes on at line \d+, where the run was broken off/);
    expect(groundText(data)).toEqual(whole);
  });

  test('a finished import run again reports everything as already there and stores nothing', async () => {
    const data = join(folder, 'again');
    cpSync(join(folder, 'whole'), data, { recursive: true });
    const again = await runChild(work(data));
    const { lines, refused } = wholeEnd.summary!;
    expect(again.summary).toMatchObject({ lines, stored: 0, already_there: lines! - refused!, refused });
    expect(again.err).not.toContain('goes on at line');
    expect(groundText(data)).toEqual(whole);
  });

  test.each(['the same files', 'other files'])(
    'two imports of %s into one folder at the same time both succeed',
    async (which) => {
      const data = join(folder, `both-${which.replaceAll(' ', '-')}`);
      const parts = which === 'the same files' ? [[mixed.logs], [mixed.logs]] : await halves();
      const ends = await Promise.all(parts.map((paths) => runChild({ ...work(data), paths })));
      for (const end of ends) {
        expect(end.err).not.toContain('unexpected');
        expect(end.exitCode).toBe(2);
        const { lines, stored, already_there, refused } = end.summary!;
        expect(stored! + already_there! + refused!).toBe(lines);
      }
      expect(groundText(data)).toEqual(whole);
    },
  );
});

async function halves(): Promise<string[][]> {
  const { findLogFiles } = await import('../../ingest/sources/log-files.ts');
  const paths = findLogFiles([mixed.logs]).files.map(({ path }) => path);
  return [paths.filter((_, n) => n % 2 === 0), paths.filter((_, n) => n % 2 === 1)];
}
