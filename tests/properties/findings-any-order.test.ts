import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAnalysed } from '../../ingest/commands/analysed-store.ts';
import { importLogs } from '../../ingest/commands/import-logs.ts';
import { createPrng } from '../../ingest/demo/prng.ts';
import { type DemoFiles, writeDemo } from '../../ingest/demo/write-demo.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { derivedText } from '../crash/_stored-text.ts';

const SEED = Number(process.env.KILTER_SEED ?? Date.now() % 1_000_000);
const LATE_DAY = '2026-03-06';
/** Sites of the demo fleet with findings of several kinds. */
const SITES = /mill-lane-shop|ford-pharmacy|upper-tessel-dairy|quarry-workshop/;

let folder = '';
let demo: DemoFiles;
let inOrder: readonly string[];
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-any-order-'));
  const out = join(folder, 'demo');
  const from = epochMs(Date.UTC(2026, 2, 2));
  const all = await writeDemo({ out, seed: 3, from, days: 14, everyS: 300, sites: 12, say: () => undefined });
  demo = { ...all, files: all.files.filter((path) => SITES.test(path)) };
  inOrder = await findingsAfter('in order', [demo.files]);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Imports parts one after the other into a new folder, an analysis after each, and tells what was found in the end. */
async function findingsAfter(name: string, parts: readonly (readonly string[])[]): Promise<string[]> {
  const data = join(folder, name.replaceAll(' ', '-'));
  for (const paths of parts) {
    const said: string[] = [];
    const voice = { err: (line: string) => said.push(line), draw: null, nowMs: () => 0 };
    const { exitCode } = await importLogs({ data, sites: [demo.sitesFile], columns: null, paths }, voice);
    expect(exitCode, said.join('\n')).toBe(0);
    const analysed = openAnalysed(data, null);
    for (const site of analysed.store.recordSites()) analysed.analyse(site);
    analysed.close();
  }
  const text = derivedText(data);
  rmSync(data, { recursive: true });
  return text;
}

const allLines = (): string[] => demo.files.flatMap((file) => readFileSync(file, 'utf8').trimEnd().split('\n'));

function shuffled<T>(values: readonly T[], name: string): T[] {
  const prng = createPrng(SEED, name);
  const mixed = [...values];
  for (let i = mixed.length - 1; i > 0; i--) {
    const j = prng.whole(0, i);
    [mixed[i], mixed[j]] = [mixed[j]!, mixed[i]!];
  }
  return mixed;
}

/** Writes lines into so many files. */
function written(name: string, lines: readonly string[], files: number): string[] {
  const into = join(folder, name);
  mkdirSync(into);
  const size = Math.ceil(lines.length / files);
  return Array.from({ length: files }, (_, n) => {
    const path = join(into, `${n}.ndjson`);
    writeFileSync(path, `${lines.slice(n * size, (n + 1) * size).join('\n')}\n`);
    return path;
  });
}

describe('findings, events and kept states', () => {
  test('there are some to compare', () => {
    for (const table of ['findings', 'events', 'kept_states'])
      expect(inOrder.filter((line) => line.startsWith(`${table} `)).length, table).toBeGreaterThan(3);
  });

  test('are the same, byte for byte, when the files come in reverse', async () => {
    expect(await findingsAfter('in reverse', [[...demo.files].reverse()])).toEqual(inOrder);
  });

  test('are the same when the lines come shuffled, some of them twice', async () => {
    const lines = allLines();
    const twice = [...lines, ...shuffled(lines, 'repeats').slice(0, 500)];
    const files = written('shuffled', shuffled(twice, 'shuffle'), 1);
    expect(await findingsAfter('lines shuffled', [files]), `KILTER_SEED=${SEED}`).toEqual(inOrder);
  });

  test('are the same when the lines are split at random into 5 files that are imported and analysed one by one', async () => {
    const files = written('split', shuffled(allLines(), 'split'), 5);
    expect(
      await findingsAfter(
        'five parts',
        files.map((file) => [file]),
      ),
      `KILTER_SEED=${SEED}`,
    ).toEqual(inOrder);
  });

  test('are the same when one day comes a week late, into an analysis that has gone on', async () => {
    const isLate = (path: string): boolean => path.includes(LATE_DAY);
    const late = demo.files.filter(isLate);
    expect(late.length).toBeGreaterThan(3);
    const week = demo.files.filter((path) => !isLate(path) && path < path.replace(/2026-03-\d\d/, '2026-03-13'));
    const rest = demo.files.filter((path) => !isLate(path) && !week.includes(path));
    expect(rest.length).toBeGreaterThan(3);
    expect(await findingsAfter('late day', [week, late, rest])).toEqual(inOrder);
    expect(await findingsAfter('late day last', [week, rest, late])).toEqual(inOrder);
  });

  test('are the same when every day is imported and analysed by itself', async () => {
    const days = [...new Set(demo.files.map((path) => /2026-03-\d\d/.exec(path)![0]))].sort();
    const parts = days.map((day) => demo.files.filter((path) => path.includes(day)));
    expect(await findingsAfter('day by day', parts)).toEqual(inOrder);
  });
});
