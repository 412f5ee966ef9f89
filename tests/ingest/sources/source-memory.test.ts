import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { createSourceMemory } from '../../../ingest/sources/source-memory.ts';

const folder = mkdtempSync(join(tmpdir(), 'kilter-memory-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test('each source has a memory of its own, the newest stands, and nothing else is left in the folder', () => {
  const own = join(folder, 'sources');
  const [a, b] = ['mqtt a', 'mqtt b'].map((name) => createSourceMemory(own, name)) as [
    ReturnType<typeof createSourceMemory>,
    ReturnType<typeof createSourceMemory>,
  ];
  expect(a.load()).toBeNull();
  a.save({ n: 1 });
  a.save({ n: 2 });
  b.save({ n: 3 });
  expect([a.load(), b.load(), createSourceMemory(own, 'mqtt a').load()]).toEqual([{ n: 2 }, { n: 3 }, { n: 2 }]);
  expect(readdirSync(own)).toHaveLength(2);
});

test('one that can not be read is as if nothing was kept; where it can not be written it says so', () => {
  const own = join(folder, 'damaged');
  const memory = createSourceMemory(own, 'mqtt');
  memory.save(1);
  writeFileSync(join(own, readdirSync(own)[0]!), '{');
  expect(memory.load()).toBeNull();
  writeFileSync(join(folder, 'file'), '');
  expect(() => createSourceMemory(join(folder, 'file', 'x'), 'mqtt').save(1)).toThrow();
});
