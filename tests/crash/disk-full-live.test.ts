import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, unlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { createIntake } from '../../ingest/intake/intake.ts';
import { createLiveDoor } from '../../ingest/intake/live-door.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore, type ReadingStore } from '../../ingest/store/reading-store.ts';
import { createSealer } from '../../ingest/store/sealer.ts';
import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { liveLines } from './_live-lines.ts';
import { groundText } from './_stored-text.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-full-live-'));
const disk = join(folder, 'disk');
mkdirSync(disk);
/** A small disk can be mounted only by root, and not in every container. */
const isMounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=3m', 'tmpfs', disk]).status === 0;
afterAll(() => {
  if (isMounted) spawnSync('umount', [disk]);
  rmSync(folder, { recursive: true, force: true });
});

const readingsIn = (store: ReadingStore): number =>
  store
    .sources()
    .flatMap(({ source }) => store.heads(source, T_MIN_MS, T_MAX_MS))
    .reduce((sum, { readings }) => sum + readings, 0);

describe.skipIf(!isMounted)('a full disk (needs the right to mount one)', () => {
  test('refuses live batches whole and in words; offered again with room, each is stored once', async () => {
    const lines = liveLines(3, 6000);
    const decoder = createNdjsonDecoder();
    const batches: ReadingBatch[] = [];
    for (let at = 0; at < lines.length; at += 50) {
      batches.push(decoder.decode(Buffer.from(`${lines.slice(at, at + 50).join('\n')}\n`), 1));
    }
    const data = join(disk, 'data');
    const db = openStore(data);
    const store = createReadingStore(db);
    const door = createLiveDoor(store);
    const sealer = createSealer(store);
    const ballast = join(disk, 'ballast');
    const fill = (): void => {
      spawnSync('dd', ['if=/dev/zero', `of=${ballast}`, 'bs=4096']);
    };
    let refused = 0;
    let sealsRefused = 0;
    for (const [n, batch] of batches.entries()) {
      if (n % 20 === 7) fill();
      const before = readingsIn(store);
      await door.store(batch).catch(async (error: unknown) => {
        refused++;
        expect(error).toBeInstanceOf(NeedsOperator);
        expect((error as NeedsOperator).message).toContain('free space on the disk');
        expect(readingsIn(store)).toBe(before);
        unlinkSync(ballast);
        await door.store(batch);
      });
      if (n % 20 === 12) {
        fill();
        try {
          for (let hour = 0; sealer.sealDue((n + hour) * 3_600_000, () => false); hour++);
        } catch {
          sealsRefused++;
        }
        rmSync(ballast, { force: true });
        expect(readingsIn(store)).toBeGreaterThanOrEqual(before);
      }
    }
    expect(refused).toBeGreaterThan(0);
    expect(sealsRefused).toBeGreaterThan(0);
    rmSync(ballast, { force: true });
    spawnSync('mount', ['-o', 'remount,size=60m', disk]);
    while (sealer.sealAll(() => false));
    db.close();

    const whole = join(folder, 'whole');
    const other = openStore(whole);
    const intake = createIntake(createReadingStore(other));
    for (const batch of batches) intake.take(batch);
    intake.flush();
    other.close();
    expect(groundText(data)).toEqual(groundText(whole));
  });
});
