import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, unlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { type MixedLogs, writeMixedLogs } from './_mixed-logs.ts';
import { type ChildWork, runChild } from './_start-child.ts';
import { groundText } from './_stored-text.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-full-'));
const disk = join(folder, 'disk');
mkdirSync(disk);
/** A small disk can be mounted only by root, and not in every container. */
const isMounted = spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=3m', 'tmpfs', disk]).status === 0;
afterAll(() => {
  if (isMounted) spawnSync('umount', [disk]);
  rmSync(folder, { recursive: true, force: true });
});

describe.skipIf(!isMounted)('a full disk (needs the right to mount one)', () => {
  test('ends the import in words with code 1; with room again it goes on and nothing is lost or half', {
    timeout: 180_000,
  }, async () => {
    const mixed: MixedLogs = await writeMixedLogs(folder, { seed: 5, sites: 2, days: 3, everyS: 300, files: 8 });
    const work = (data: string): ChildWork => ({
      work: 'import',
      data,
      sites: [mixed.sitesFile],
      paths: [mixed.logs],
      pendingMaxBytes: 40_000,
    });
    const whole = await runChild(work(join(folder, 'whole')));
    const ballast = join(disk, 'ballast');
    const data = join(disk, 'data');
    for (const mb of [2.9, 2.6, 2.2, 1.5]) {
      writeFileSync(ballast, Buffer.alloc(mb * 2 ** 20));
      const full = await runChild(work(data));
      expect(full.exitCode, `${mb} MB taken`).toBe(1);
      expect(full.summary).toBe(null);
      expect(full.err).not.toContain('unexpected');
      expect(full.err).toMatch(/free space on the disk and run the command again; what was stored is still there\n$/);
      expect(full.err).not.toContain('lines before it were taken');
      unlinkSync(ballast);
    }
    spawnSync('mount', ['-o', 'remount,size=60m', disk]);
    const end = await runChild(work(data));
    expect(end.err).not.toContain('unexpected');
    expect(end.exitCode).toBe(2);
    expect(groundText(data)).toEqual(groundText(join(folder, 'whole')));
    expect(end.summary!.lines).toBe(whole.summary!.lines);
  });
});
