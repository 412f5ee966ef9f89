import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createImportProgress, type ProgressCounts } from '../../../ingest/intake/import-progress.ts';
import { type Db, openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../ingest/store/reading-store.ts';

const A = { path: 'a.ndjson', identity: '100 1' };
const B = { path: 'b.ndjson', identity: '200 1' };
const counts = (lines: number): ProgressCounts => ({
  files: 1,
  lines,
  stored: lines,
  alreadyThere: 0,
  refused: 0,
  sites: ['millpond'],
});

let folder = '';
let db: Db;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-progress-'));
  db = openStore(folder);
});
afterEach(() => {
  db.close();
  rmSync(folder, { recursive: true });
});
const progress = () => createImportProgress(createReadingStore(db), 'run');

describe('createImportProgress', () => {
  test('a run that was broken off knows its files, its place and its counts', () => {
    progress().put({ done: [A], at: { file: B, nextLine: 41 }, counts: counts(140), refused: [] });
    const next = progress();
    expect(next.counts()).toEqual(counts(140));
    expect([next.of(A), next.of(B)]).toEqual(['done', 41]);
    expect(next.of({ ...B, identity: '300 2' })).toBe(1);
  });

  test('a run that has ended leaves nothing', () => {
    const run = progress();
    run.put({ done: [A], at: null, counts: counts(100), refused: [] });
    run.clear();
    expect(progress().counts()).toBe(null);
    expect(progress().of(A)).toBe(1);
  });

  test('of two processes with the same files only one keeps places and counts, so that they add up', () => {
    const first = progress();
    const second = progress();
    first.put({ done: [A], at: null, counts: counts(100), refused: [] });
    second.put({ done: [], at: { file: A, nextLine: 51 }, counts: counts(50), refused: [] });
    second.clear();
    const next = progress();
    expect(next.counts()).toEqual(counts(100));
    expect(next.of(A)).toBe('done');
    // One that takes a run over is its owner from then on.
    next.put({ done: [B], at: null, counts: counts(300), refused: [] });
    first.put({ done: [], at: { file: B, nextLine: 9 }, counts: counts(108), refused: [] });
    expect(progress().counts()).toEqual(counts(300));
    expect(progress().of(B)).toBe('done');
  });
});
