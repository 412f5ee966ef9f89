import { createHash } from 'node:crypto';
import { mkdtemp, readdir, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { FleetLabels } from '../../../ingest/demo/labels.ts';
import { type DemoFiles, type DemoOptions, writeDemo } from '../../../ingest/demo/write-demo.ts';
import { parseSites } from '../../../ingest/site/parse-sites.ts';
import { COLUMNS, columnOf, SOURCE_KINDS } from '../../../ingest/vocabulary/quantities.ts';
import { epochMs, parseTime } from '../../../ingest/vocabulary/time.ts';
import { FROM } from './_sample-site.ts';

let folder = '';
const said: string[] = [];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'kilter-demo-'));
});
afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
});

function write(name: string, wish: Partial<DemoOptions> = {}): Promise<DemoFiles> {
  const out = join(folder, name);
  return writeDemo({ out, seed: 7, from: FROM, days: 3, everyS: 600, say: (line) => said.push(line), ...wish });
}

/** One digest over every file below a folder, names and bytes. */
async function digestOf(name: string): Promise<string> {
  const root = join(folder, name);
  const hash = createHash('sha256');
  const entries = await readdir(root, { recursive: true, withFileTypes: true });
  const paths = entries.filter((e) => e.isFile()).map((e) => join(e.parentPath, e.name));
  for (const path of paths.sort()) hash.update(path.slice(root.length)).update(await readFile(path));
  return hash.digest('hex');
}

describe('writeDemo', () => {
  test('the same seed writes the same bytes, another seed others', async () => {
    await write('first');
    await write('second');
    await write('other', { seed: 8 });
    expect(await digestOf('first')).toBe(await digestOf('second'));
    expect(await digestOf('first')).not.toBe(await digestOf('other'));
  });

  test('writes a file a site and UTC day, and says how many readings each site has', async () => {
    said.length = 0;
    const { files } = await write('named', { sites: 2 });
    expect(files.map((path) => path.split('/').slice(-3).join('/'))).toEqual([
      'logs/oxholm-clinic/2026-03-02.ndjson',
      'logs/oxholm-clinic/2026-03-03.ndjson',
      'logs/oxholm-clinic/2026-03-04.ndjson',
      'logs/brackwater-bakery/2026-03-02.ndjson',
      'logs/brackwater-bakery/2026-03-03.ndjson',
      'logs/brackwater-bakery/2026-03-04.ndjson',
    ]);
    expect(said).toHaveLength(2);
    expect(said[0]).toMatch(/^oxholm-clinic: \d+ readings \(site 1 of 2\)$/);
  });

  test('every line is JSON of known sources with quantities of the vocabulary only, and the readings are counted', async () => {
    const { files, sitesFile, readings } = await write('lines', { sites: 24, days: 2 });
    const { documents } = parseSites(await readFile(sitesFile, 'utf8'), 'sites.yaml');
    const ids = new Map(
      documents.map((d) => [d.site, { unit: d.units, pack: d.packs, bank: [{ id: 'bank' }], meter: d.meters }]),
    );
    const seen = new Set<string>();
    for (const path of files) {
      for (const text of (await readFile(path, 'utf8')).trimEnd().split('\n')) {
        const line: Record<string, unknown> = JSON.parse(text);
        const kind = SOURCE_KINDS.find((k) => k in line)!;
        expect(ids.get(String(line.site))![kind].some(({ id }) => id === line[kind])).toBe(true);
        const t = typeof line.t === 'number' ? line.t : parseTime(String(line.t));
        expect(Number.isSafeInteger(t)).toBe(true);
        if (line.settings !== undefined || line.alarm !== undefined) continue;
        for (const [key, value] of Object.entries(line)) {
          if (key === 't' || key === 'site' || key === kind) continue;
          const column = columnOf(kind, key);
          if (column === undefined) throw new Error(`${key} is no quantity of a ${kind}`);
          if (column.words === null ? typeof value !== 'number' : !column.words.includes(String(value)))
            throw new Error(`${key} is ${String(value)}`);
        }
        seen.add(`${String(line.site)} ${String(line[kind])} ${t}`);
      }
    }
    expect(seen.size).toBe(readings);
  });

  test('labels name every site, half of them healthy and without a fault', async () => {
    const { labelsFile } = await write('labels');
    const labels: FleetLabels = JSON.parse(await readFile(labelsFile, 'utf8'));
    expect(labels.sites).toHaveLength(12);
    expect(labels.sites.filter((site) => site.healthy)).toHaveLength(6);
    for (const site of labels.sites) {
      if (site.healthy) expect(site.faults).toEqual([]);
      for (const { start, end } of site.events) expect(parseTime(end)! > parseTime(start)!).toBe(true);
    }
  });

  test('compressed files hold the same lines', async () => {
    const plain = await write('plain', { sites: 1 });
    const packed = await write('packed', { sites: 1, gzip: true });
    expect(packed.files.map((path) => basename(path))).toEqual(plain.files.map((path) => `${basename(path)}.gz`));
    expect(gunzipSync(await readFile(packed.files[0]!)).equals(await readFile(plain.files[0]!))).toBe(true);
  });

  test('CSV holds the same readings under headers of the vocabulary, a file a kind', async () => {
    const { files } = await write('csv', { sites: 1, days: 1, format: 'csv' });
    expect(files.map((path) => basename(path))).toEqual([
      '2026-03-02.units.csv',
      '2026-03-02.packs.csv',
      '2026-03-02.banks.csv',
      '2026-03-02.ndjson',
    ]);
    const [head, ...rows] = (await readFile(files[0]!, 'utf8'))
      .trimEnd()
      .split('\n')
      .map((line) => line.split(','));
    expect(head).toEqual(['t', 'site', 'unit', ...COLUMNS.unit.map((column) => column.id)]);
    expect(rows.length).toBeGreaterThan(250);
    expect(rows.every((row) => row.length === head!.length)).toBe(true);
    expect(JSON.parse((await readFile(files[3]!, 'utf8')).split('\n')[0]!).settings.battery_type).toBe('lithium');
  });

  test('days with a grid loss are sampled more closely where that is asked for', async () => {
    const { files, labelsFile } = await write('closely', { sites: 1, days: 6, everyS: 600, eventEveryS: 60 });
    const labels: FleetLabels = JSON.parse(await readFile(labelsFile, 'utf8'));
    const darkDays = new Set(
      labels.sites[0]!.events.flatMap(({ start, end }) => [start.slice(0, 10), end.slice(0, 10)]),
    );
    for (const path of files) {
      const lines = (await readFile(path, 'utf8')).split('\n').length;
      if (darkDays.has(basename(path).slice(0, 10))) expect(lines).toBeGreaterThan(5000);
      else expect(lines).toBeLessThan(2000);
    }
  });

  test.each([
    [{ everyS: 7 }, 'everyS = 7'],
    [{ eventEveryS: 1 }, 'eventEveryS = 1'],
    [{ days: 0 }, '0 days'],
    [{ sites: 0 }, '0 sites'],
    [{ from: epochMs(FROM + 1) }, 'expected midnight'],
  ])('refuses %j and says why', async (wish, message) => {
    await expect(write('refused', wish)).rejects.toThrow(message);
  });
});
