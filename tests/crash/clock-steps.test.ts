/** A courier whose clock is set forward and back by an hour and more: each poll is one reading at the server. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { runCourier } from '../../ingest/run-courier.ts';
import { readModbusConfig } from '../../ingest/sources/modbus/modbus-config.ts';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore } from '../../ingest/store/source-status-store.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import { startScriptedModbus } from '../peers/_scripted-modbus.ts';
import { freePort, startPart, until } from './_started.ts';

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-clock-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const HOUR_MS = 3_600_000;
/** What the clock is set by, each in turn; the last two bring the same marks of the cadence once more. */
const STEPS_MS = [HOUR_MS, -HOUR_MS, -HOUR_MS, HOUR_MS, -2000, -2000];
const POLLS_BETWEEN = 8;

function stored(data: string) {
  const db = openStoreToRead(data);
  try {
    const store = createReadingStore(db);
    const [unit] = store.sources('millpond');
    if (unit === undefined) return { values: [], conflicts: 0, clocks: [] };
    const days = [...store.readBlocks(unit.source, T_MIN_MS, T_MAX_MS)];
    return {
      values: days.flatMap(({ columns }) => columns.flatMap((column) => [...(column ?? [])])).sort((a, b) => a - b),
      conflicts: store.claims(unit.source, T_MIN_MS, T_MAX_MS).length,
      clocks: createSourceStatusStore(db).clocks(),
    };
  } finally {
    db.close();
  }
}

test('steps of the clock lose no reading and double none, are said, and the offset that is left is known to the server', async () => {
  const port = await freePort();
  writeFileSync(
    join(folder, 'one.yaml'),
    'profile: one\nregisters:\n  - { quantity: output_power_w, table: holding, address: 0, type: uint16 }\n',
  );
  writeFileSync(
    join(folder, 'kilter.yaml'),
    `data: ./data\nlisten: { host: 127.0.0.1, port: ${port} }\nsources: [{ kind: push }]\n`,
  );
  const server = await startPart('serve', ['serve', '--config', join(folder, 'kilter.yaml')], /Kilter is at/);
  const peer = await startScriptedModbus('tcp');
  peer.script = (request) => void request.socket.write(peer.answer(request, [request.number]));
  const { config } = readModbusConfig(
    {
      kind: 'modbus',
      site: 'millpond',
      connect: { tcp: `127.0.0.1:${peer.port}` },
      every_s: 0.2,
      devices: [{ unit: 'u1', address: 1, reads: './one.yaml' }],
    },
    { folder, env: {} },
  );
  let shiftMs = 0;
  // As coarse as a clock may be, so that two polls at one mark have one time.
  const nowMs = (): number => Math.floor(Date.now() / 100) * 100 + shiftMs;
  const said: string[] = [];
  let stop = (): void => undefined;
  const start = (sources: Parameters<typeof runCourier>[0]['sources']): Promise<void> =>
    runCourier(
      {
        courier: {
          name: 'garden',
          forward: { kind: 'push', url: `http://127.0.0.1:${port}/api/readings`, token: null },
          queue: { path: join(folder, 'queue'), maxBytes: 16 * 1024 * 1024 },
        },
        sources,
      },
      {
        say: (line) => said.push(line),
        nowMs,
        elapsedMs: () => performance.now(),
        random: () => 0.5,
        stopped: new Promise((resolve) => {
          stop = resolve;
        }),
        onSources: () => undefined,
      },
    );
  let courier = start([config!]);
  const data = join(folder, 'data');
  try {
    for (const step of STEPS_MS) {
      const polls = peer.requests.length;
      await until('polls go on', () => peer.requests.length >= polls + POLLS_BETWEEN);
      shiftMs += step;
    }
    const polls = peer.requests.length;
    await until('polls go on', () => peer.requests.length >= polls + POLLS_BETWEEN);
    await until('the offset is known', () => Math.abs((stored(data).clocks[0]?.offsetMs ?? 0) - shiftMs) < 1500);
    stop();
    await courier;
    const count = peer.requests.length;
    // What still lay in its queue is sent by the next one.
    courier = start([]);
    await until('all are stored', () => stored(data).values.length >= count - 1);
    const { values, conflicts } = stored(data);
    // The last request may have been cut off by the stop, before it was answered.
    expect([values, conflicts]).toEqual([Array.from({ length: values.length }, (_, n) => n + 1), 0]);
    expect(said.filter((line) => line.includes('the clock of this machine stepped'))).toHaveLength(STEPS_MS.length);
  } finally {
    stop();
    await courier;
    await peer.stop();
    await server.stop();
  }
}, 90_000);
