import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { checkSitesCommand } from '../../../ingest/commands/check-sites.ts';
import { MILLPOND, millpondWith } from '../site/millpond.ts';
import { parsed, run } from './_stored.ts';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-check-'));
  writeFileSync(join(folder, 'good.yaml'), MILLPOND);
  writeFileSync(
    join(folder, 'two-leads.yml'),
    millpondWith('role: follower', 'role: lead').replace('site: millpond', 'site: sawpit'),
  );
  writeFileSync(join(folder, 'notes.txt'), 'no record');
});
afterAll(() => rmSync(folder, { recursive: true }));
const check = (...args: string[]) => run([checkSitesCommand], ['check-sites', ...args]);

describe('kilter check-sites', () => {
  test('ends with 0 where nothing must be mended', async () => {
    const { code, out } = await check(join(folder, 'good.yaml'));
    expect(code).toBe(0);
    expect(out.at(-1)).toMatch(/^Checked 1 document of 1 site: 0 refusals, 0 contradictions, \d+ remarks?\.$/);
  });

  test('names a contradiction with file, line and column, and ends with 2', async () => {
    const { code, out } = await check(folder);
    expect(code).toBe(2);
    expect(out.join('\n')).toMatch(/two-leads\.yml:\d+:\d+: contradiction: .+; .+/);
    expect(out.at(-1)).toMatch(/^Checked 2 documents of 2 sites: 0 refusals, 1 contradiction, /);
  });

  test('prints one object a line with --json, and the summary beside', async () => {
    const ran = await check(folder, '--json');
    const lead = parsed(ran).find(({ id }) => id === 'lead_count');
    expect(lead).toMatchObject({ weight: 'contradiction', site: 'sawpit', file: join(folder, 'two-leads.yml') });
    expect(Object.keys(lead!)).toEqual(['file', 'line', 'column', 'weight', 'id', 'site', 'what', 'remedy']);
    expect(ran.err).toHaveLength(1);
  });

  test('names every refusal of a file that can not be read as records', async () => {
    const path = join(folder, '..', 'kilter-broken.yaml');
    writeFileSync(path, MILLPOND.replace('rated_power_w: 8000', 'rated_power_w: 8 kW').replace('L1', 'L9'));
    const { code, out } = await check(path);
    rmSync(path);
    expect(code).toBe(2);
    expect(out.filter((line) => line.includes(': refusal: ')).length).toBeGreaterThanOrEqual(2);
  });

  test('asks for a path, and says where there is none', async () => {
    expect((await check()).err[0]).toContain('no file is named');
    const { code, err } = await check(join(folder, 'nowhere.yaml'));
    expect(code).toBe(1);
    expect(err[0]).toContain('there is no such file or folder');
  });
});
