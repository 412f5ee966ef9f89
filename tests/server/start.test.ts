import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { WriteDemo } from '../../ingest/commands/demo.ts';
import { importCommand } from '../../ingest/commands/import.ts';
import { writeDemo } from '../../ingest/demo/write-demo.ts';
import { startCommand } from '../../server/start.ts';
import { dropFolder, run } from '../ingest/commands/_stored.ts';

describe('kilter start', () => {
  test('writes the fleet once, imports it, and shows grid losses and findings', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-start-'));
    let written = 0;
    const small: WriteDemo = (fleet) => {
      written++;
      return writeDemo({ ...fleet, days: 2, sites: 1, everyS: 300 });
    };
    const start = startCommand({ writeDemo: small, importCommand });
    const first = await run([start], ['start', '--data', folder]);
    expect(first.code).toBe(0);
    expect(first.out[0]).toBe('Grid losses');
    expect(first.out).toContain('Findings');
    expect(first.out.join('\n')).toMatch(/Looked at 1 site: \d+ open finding/);
    expect(first.err.join('\n')).toMatch(
      /writing the demo fleet[\s\S]*importing[\s\S]*"stored":[1-9][\s\S]*What next:/,
    );
    const again = await run([start], ['start', '--data', folder]);
    expect(again.out).toEqual(first.out);
    expect(again.err[0]).toContain('is in');
    expect(again.err.join('\n')).toContain('"stored":0');
    expect(written).toBe(1);
    dropFolder(folder);
  });

  test('stops with the import where a file can not be read', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-start-'));
    writeFileSync(join(folder, 'labels.json'), '{}');
    const start = startCommand({
      writeDemo: () => Promise.reject(new TypeError('Cannot write')),
      importCommand: { ...importCommand, run: () => Promise.resolve(1) },
    });
    const { code, out } = await run([start], ['start', '--data', folder]);
    expect([code, out]).toEqual([1, []]);
    expect(readFileSync(join(folder, 'labels.json'), 'utf8')).toBe('{}');
    dropFolder(folder);
  });
});
