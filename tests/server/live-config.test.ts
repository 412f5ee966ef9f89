/** A configuration that changes while everything runs, as processes: `kilter start` with folders and a push source. */
import { appendFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { sourcesAnswerSchema } from '../../server/contract/sources.ts';
import { freePort, startPart, until } from '../crash/_started.ts';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-live-config-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const line = (unit: string, t = Date.now()): string =>
  `${JSON.stringify({ t, site: 'millpond', unit, output_power_w: 1 })}\n`;

test('sources come, change and go without touching the others; a wrong file is said and changes nothing', {
  timeout: 120_000,
}, async () => {
  const port = await freePort();
  const file = join(folder, 'kilter.yaml');
  const head = `data: ./data\nlisten: { host: 127.0.0.1, port: ${port} }\nsources:\n`;
  for (const name of ['a', 'b']) mkdirSync(join(folder, name));
  writeFileSync(file, `${head}  - { kind: folder, path: ./a }\n`);
  const env = { VALLEY: 'river stone' };
  const kilter = await startPart('start', ['start', '--config', file], /Kilter is at/, env);
  const sources = async () =>
    sourcesAnswerSchema.parse(await (await fetch(`http://127.0.0.1:${port}/api/sources`)).json()).sources;
  const named = async (): Promise<string[]> => (await sources()).map(({ name }) => name).sort();
  const push = (token: string): Promise<Response> =>
    fetch(`http://127.0.0.1:${port}/api/readings`, {
      method: 'POST',
      body: line('u3'),
      headers: { Authorization: `Bearer ${token}`, 'Content-Type': 'application/x-ndjson' },
    });
  try {
    appendFileSync(join(folder, 'a', 'a.ndjson'), line('u1'));
    await until('the folder is read', async () =>
      (await sources()).some(({ state, readings }) => state === 'working' && readings === 1),
    );
    const since = (await sources())[0]!.since;
    expect((await push('river stone')).status).toBe(404);

    const both = `${head}  - { kind: folder, path: ./a }\n  - { kind: folder, path: ./b }\n  - { kind: push, tokens: [{ name: valley, token_env: VALLEY, sites: [millpond] }] }\n`;
    writeFileSync(file, both);
    await until('the new sources run', async () => (await named()).join() === 'folder ./a,folder ./b,push');
    expect((await push('river stone')).status).toBe(200);
    expect((await push('a river stone')).status).toBe(401);

    writeFileSync(file, `${head}  - { kind: fax }\n`);
    await until('the mistake is said', () =>
      /kind is "fax"[\s\S]*the configuration as it was goes on/.test(kilter.said()),
    );
    appendFileSync(join(folder, 'b', 'b.ndjson'), `${line('u2')}nonsense\n`);
    await until('the old sources go on', async () => {
      const b = (await sources()).find(({ name }) => name === 'folder ./b');
      return b?.readings === 1 && b.refused === 1 && b.samples[0]!.where.endsWith('b.ndjson, line 2');
    });

    writeFileSync(file, `${head}  - { kind: folder, path: ./a }\n`);
    kilter.signal('SIGHUP');
    await until('the others are gone', async () => (await named()).join() === 'folder ./a');
    expect((await push('river stone')).status).toBe(404);
    // It was not touched: it stands as long as it did, and has not begun to count anew.
    expect((await sources())[0]).toMatchObject({ since, readings: 1 });
    const metrics = await (await fetch(`http://127.0.0.1:${port}/metrics`)).text();
    expect(metrics).toContain('kilter_source_connected{source="folder ./a",kind="folder"} 1');
    expect(metrics).toContain('kilter_source_readings{source="folder ./a",kind="folder"} 1');
  } finally {
    const { code, ms } = await kilter.stop();
    expect(code).toBe(0);
    expect(ms).toBeLessThan(5000);
  }
});
