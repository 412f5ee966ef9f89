import { appendFileSync, mkdirSync, mkdtempSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createLiveDoor } from '../../../ingest/intake/live-door.ts';
import { followFolder } from '../../../ingest/sources/follow-folder.ts';
import { followIntoStore } from '../../../ingest/sources/follow-into-store.ts';
import { openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../../ingest/store/reading-store.ts';
import { sayRefusal } from '../../../ingest/vocabulary/refusal.ts';
import { T_MAX_MS, T_MIN_MS } from '../../../ingest/vocabulary/time.ts';

let folder = '';
let logs = '';
let store: ReadingStore;
let refused: string[] = [];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-follow-'));
  logs = join(folder, 'logs');
  mkdirSync(logs);
  store = createReadingStore(openStore(join(folder, 'data')));
  refused = [];
});
afterEach(() => {
  store.db.close();
  rmSync(folder, { recursive: true });
});

const follow = () => {
  const folder = { path: logs, columns: null };
  return followFolder(followIntoStore(store, createLiveDoor(store), folder), folder, {
    refused: (refusal) => refused.push(sayRefusal(refusal)),
    stored: () => undefined,
  });
};
const look = () => follow().look(() => false);
const line = (second: number): string =>
  `${JSON.stringify({ t: Date.UTC(2026, 2, 10) + second * 1000, site: 'millpond', unit: 'u1', output_power_w: second })}\n`;
const stored = (): number =>
  store
    .sources()
    .reduce(
      (sum, { source }) => sum + store.heads(source, T_MIN_MS, T_MAX_MS).reduce((n, { readings }) => n + readings, 0),
      0,
    );

describe('followFolder', () => {
  test('takes what appears and what is added, each line once, also by a new process', async () => {
    writeFileSync(join(logs, 'a.ndjson'), line(1) + line(2));
    expect(await look()).toBeGreaterThan(0);
    expect(stored()).toBe(2);
    expect(await look()).toBe(0);
    appendFileSync(join(logs, 'a.ndjson'), line(3));
    expect(await look()).toBe(line(3).length);
    expect(stored()).toBe(3);
  });

  test('leaves a half-written last line alone until it is whole', async () => {
    const whole = line(2);
    writeFileSync(join(logs, 'a.ndjson'), line(1) + whole.slice(0, 20));
    await look();
    expect([stored(), refused]).toEqual([1, []]);
    appendFileSync(join(logs, 'a.ndjson'), whole.slice(20));
    await look();
    expect([stored(), refused]).toEqual([2, []]);
  });

  test('starts again where a file was rotated or cut', async () => {
    const path = join(logs, 'a.ndjson');
    writeFileSync(path, line(1) + line(2));
    await look();
    renameSync(path, join(logs, 'a.old'));
    writeFileSync(path, line(3));
    await look();
    expect(stored()).toBe(3);
    writeFileSync(path, '');
    await look();
    appendFileSync(path, line(4));
    await look();
    expect(stored()).toBe(4);
  });

  test('names a refused line with its number in the file, and keeps it', async () => {
    writeFileSync(join(logs, 'a.ndjson'), line(1));
    await look();
    appendFileSync(join(logs, 'a.ndjson'), `no json\n${line(2)}`);
    await look();
    expect(refused).toEqual([expect.stringMatching(/a\.ndjson, line 2: "no json" is no JSON/)]);
    expect(stored()).toBe(2);
    const row = store.db.prepare('SELECT line FROM refusals').get();
    expect(row).toEqual({ line: 2 });
  });

  test('takes packed files and CSV whole, once they rest', async () => {
    writeFileSync(join(logs, 'b.ndjson.gz'), gzipSync(line(1) + line(2)));
    writeFileSync(join(logs, 'c.csv'), 't,site,unit,output_power_w\n2026-03-10T00:00:09Z,millpond,u1,9\n');
    const follower = follow();
    await follower.look(() => false);
    expect(stored()).toBe(0);
    await follower.look(() => false);
    expect(stored()).toBe(3);
    expect(await follower.look(() => false)).toBe(0);
  });

  test('a folder that is not there yet is said once and waited for', async () => {
    rmSync(logs, { recursive: true });
    const follower = follow();
    await follower.look(() => false);
    await follower.look(() => false);
    expect(refused).toHaveLength(1);
    mkdirSync(logs);
    writeFileSync(join(logs, 'a.ndjson'), line(1));
    await follower.look(() => false);
    expect(stored()).toBe(1);
  });
});
