/** The command as a process: exit codes, pipes, what an operator sees. */
import { spawnSync } from 'node:child_process';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { at, dropFolder, storeLines } from '../ingest/commands/_stored.ts';

const KILTER = [process.execPath, '--import', 'tsx', 'server/kilter.ts'] as const;

function kilter(...args: string[]) {
  const [node, ...before] = KILTER;
  return spawnSync(node, [...before, ...args], { encoding: 'utf8', maxBuffer: 64 * 1024 * 1024 });
}

let folder = '';
beforeAll(() => {
  const lines = Array.from({ length: 20_000 }, (_, i) => ({
    t: at('10T00:00:00') + i * 1000,
    site: 'millpond',
    unit: 'u1',
    output_power_w: i,
  }));
  folder = storeLines(lines);
});
afterAll(() => dropFolder(folder));

describe('kilter', () => {
  test('says its version and ends with 0', () => {
    const { status, stdout } = kilter('--version');
    expect(status).toBe(0);
    expect(stdout).toMatch(/^\d+\.\d+\.\d+\n$/);
  });

  test('ends with 1 and one line where somebody must act, without a stack', () => {
    const { status, stdout, stderr } = kilter('findings', '--data', `${folder}/nowhere`);
    expect([status, stdout]).toEqual([1, '']);
    expect(stderr.trimEnd().split('\n')).toHaveLength(1);
    expect(stderr).not.toMatch(/\n\s+at /);
  });

  test('prints every reading to a pipe, in order', () => {
    const { status, stdout } = kilter('readings', '--data', folder, '--site', 'millpond', '--unit', 'u1');
    expect(status).toBe(0);
    const lines = stdout.trimEnd().split('\n');
    expect(lines).toHaveLength(20_001);
    expect(lines.at(-1)).toMatch(/,19999$/);
  });

  test('ends quietly when the reader of a pipe has read enough', () => {
    const command = `${KILTER.join(' ')} readings --data ${folder} --site millpond --unit u1 --json | head -n 2`;
    const { stdout, stderr } = spawnSync('bash', ['-c', `set -o pipefail; ${command}; echo "code $?"`], {
      encoding: 'utf8',
    });
    const lines = stdout.trimEnd().split('\n');
    expect(lines).toHaveLength(3);
    expect(lines[1]).toContain('"output_power_w":1');
    expect(lines[2]).toBe('code 0');
    expect(stderr).toBe('');
  });
});
