/** Our link against servers of other houses: pymodbus, libmodbus, over sockets and a serial line. */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { createModbusLink, type LinkAnswer, type ModbusLink } from '../../../ingest/sources/modbus/modbus-link.ts';
import type { ModbusTarget } from '../../../ingest/sources/modbus/modbus-target.ts';
import type { RegisterRead } from '../../../ingest/wire/modbus/dialogue.ts';
import { startScriptedModbus } from '../_scripted-modbus.ts';
import { freePort, hasProgram, type Peer, startPeer } from '../_start-peer.ts';

const PYTHON = '/usr/bin/python3';
const hasPymodbus = spawnSync(PYTHON, ['-c', 'import pymodbus']).status === 0;
const hasLibmodbus =
  hasProgram('gcc') &&
  spawnSync('sh', ['-c', 'echo "#include <modbus.h>" | gcc -I/usr/include/modbus -E -']).status === 0;
const hasSocat = hasProgram('socat');
const folder = mkdtempSync(join(tmpdir(), 'kilter-peers-'));
const libmodbusServer = join(folder, 'libmodbus-server');
const started: { stop?(): Promise<void>; close?(): Promise<void> }[] = [];

beforeAll(() => {
  if (!hasLibmodbus) return;
  const source = 'tests/peers/modbus/libmodbus-server.c';
  const { status, stderr } = spawnSync('gcc', ['-I/usr/include/modbus', '-o', libmodbusServer, source, '-lmodbus'], {
    encoding: 'utf8',
  });
  if (status !== 0) throw new Error(`The libmodbus server does not compile: ${stderr}`);
});
afterEach(async () => {
  for (const one of started.splice(0).reverse()) await (one.close?.() ?? one.stop?.());
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function start(command: string, args: readonly string[], isReady: (output: string) => boolean): Promise<Peer> {
  const peer = await startPeer(command, args, isReady);
  started.push(peer);
  return peer;
}

function linkTo(target: ModbusTarget, timeoutMs = 400): ModbusLink {
  const link = createModbusLink(target, { timeoutMs }, { nowMs: Date.now });
  started.push(link);
  return link;
}

const isReady = (output: string): boolean => output.includes('ready');
const holding = (address: number, count: number): RegisterRead => ({ table: 'holding', address, count });
const wordsOf = (answer: LinkAnswer): number[] | null => (answer.ok ? [...answer.words] : null);
const upFrom = (first: number, count: number): number[] => Array.from({ length: count }, (_, i) => first + i);

/** The server says it is ready a moment before it listens. */
async function firstAnswer(link: ModbusLink, unit: number, read: RegisterRead): Promise<number[]> {
  let words: number[] | null = null;
  await expect
    .poll(async () => (words = wordsOf(await link.read(unit, read))), { timeout: 15_000, interval: 100 })
    .not.toBeNull();
  return words!;
}

async function ptyPair(): Promise<readonly [string, string]> {
  const ends = [join(folder, `a-${started.length}`), join(folder, `b-${started.length}`)] as const;
  await start('socat', ['-d', '-d', ...ends.map((end) => `pty,rawer,link=${end}`)], (out) =>
    out.includes('starting data transfer loop'),
  );
  return ends;
}

const serial = (path: string): ModbusTarget => ({
  kind: 'serial',
  path,
  baud: 19_200,
  parity: 'none',
  dataBits: 8,
  stopBits: 1,
});

describe.runIf(hasPymodbus)('a pymodbus server', () => {
  test.each(['tcp', 'rtu'] as const)(
    'answers over %s framing for its units, and is silent for others',
    async (framing) => {
      const port = await freePort();
      await start(PYTHON, ['tests/peers/modbus/pymodbus-server.py', framing, String(port)], isReady);
      const link = linkTo({ kind: framing === 'tcp' ? 'tcp' : 'rtu_over_tcp', host: '127.0.0.1', port });
      expect(await firstAnswer(link, 1, holding(30, 125))).toEqual(upFrom(1030, 125));
      expect(await link.read(5, holding(0, 2))).toMatchObject({ ok: false, exception: null });
      expect(wordsOf(await link.read(2, { table: 'input', address: 7, count: 2 }))).toEqual([2007, 2008]);
      expect(wordsOf(await link.read(11, { table: 'coil', address: 0, count: 9 }))).toEqual([
        0, 1, 0, 1, 0, 1, 0, 1, 0,
      ]);
      expect(await link.read(1, holding(299, 20))).toMatchObject({ ok: false, exception: 2 });
      expect(wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
    },
  );

  test.runIf(hasSocat)('answers on a serial line', async () => {
    const [ours, theirs] = await ptyPair();
    await start(PYTHON, ['tests/peers/modbus/pymodbus-server.py', 'serial', theirs], isReady);
    const link = linkTo(serial(ours));
    expect(await firstAnswer(link, 1, holding(5, 3))).toEqual([1005, 1006, 1007]);
    for (let i = 0; i < 20; i += 1) expect(wordsOf(await link.read(2, holding(i, 10)))).toEqual(upFrom(2000 + i, 10));
    expect(await link.read(9, holding(0, 2))).toMatchObject({ ok: false, exception: null });
    expect(wordsOf(await link.read(1, holding(40, 2)))).toEqual([1040, 1041]);
  });
});

describe.runIf(hasLibmodbus)('a libmodbus server', () => {
  test('answers over TCP for every unit address, and is read again after a restart', async () => {
    const port = await freePort();
    const first = await start(libmodbusServer, ['tcp', String(port)], isReady);
    const link = linkTo({ kind: 'tcp', host: '127.0.0.1', port });
    for (const unit of [0, 1, 77, 247, 255])
      expect(wordsOf(await link.read(unit, holding(10, 3)))).toEqual([7010, 7011, 7012]);
    expect(wordsOf(await link.read(1, { table: 'discrete', address: 1, count: 3 }))).toEqual([1, 0, 1]);
    expect(await link.read(1, holding(250, 100))).toMatchObject({ ok: false, exception: 2 });
    await first.stop();
    expect((await link.read(1, holding(0, 1))).ok).toBe(false);
    await start(libmodbusServer, ['tcp', String(port)], isReady);
    expect(await firstAnswer(link, 1, holding(0, 2))).toEqual([7000, 7001]);
  });

  test.runIf(hasSocat)('answers on a serial line', async () => {
    const [ours, theirs] = await ptyPair();
    await start(libmodbusServer, ['rtu', theirs], isReady);
    const link = linkTo(serial(ours));
    expect(await firstAnswer(link, 5, holding(0, 125))).toEqual(upFrom(7000, 125));
    expect(wordsOf(await link.read(5, { table: 'input', address: 3, count: 1 }))).toEqual([8003]);
    expect((await link.read(6, holding(0, 2))).ok).toBe(false);
    // It takes what follows a request to another device for that one's answer, and lets it pass.
    expect(await firstAnswer(link, 5, holding(20, 2))).toEqual([7020, 7021]);
  });
});

describe.runIf(hasSocat)('a serial line', () => {
  test('that is not there is said, and does not hang', async () => {
    const link = linkTo(serial(join(folder, 'no-such-port')));
    expect((await link.read(1, holding(0, 1))).ok).toBe(false);
    expect(link.status().trouble).toMatch(/no-such-port: .*No such file/);
  });

  test('that goes away is closed, and read again when it is back', async () => {
    const [ours, theirs] = await ptyPair();
    const socat = started.at(-1)!;
    const first = await start(PYTHON, ['tests/peers/modbus/pymodbus-server.py', 'serial', theirs], isReady);
    const link = linkTo(serial(ours));
    await firstAnswer(link, 1, holding(0, 1));
    await first.stop();
    await socat.stop!();
    expect((await link.read(1, holding(0, 1))).ok).toBe(false);
    await start('socat', ['-d', '-d', `pty,rawer,link=${ours}`, `pty,rawer,link=${theirs}`], (out) =>
      out.includes('starting data transfer loop'),
    );
    await start(PYTHON, ['tests/peers/modbus/pymodbus-server.py', 'serial', theirs], isReady);
    expect(await firstAnswer(link, 1, holding(4, 2))).toEqual([1004, 1005]);
  });
});

describe('a host that lets nobody in', () => {
  test.runIf(hasProgram('python3'))('costs as long as a connection may take, and is said', async () => {
    const port = await freePort();
    const script = `import socket,time
s=socket.socket();s.bind(("127.0.0.1",${port}));s.listen(0)
held=[socket.socket() for _ in range(4)]
for one in held: one.setblocking(False); one.connect_ex(("127.0.0.1",${port}))
print("ready",flush=True);time.sleep(60)`;
    await start(PYTHON, ['-c', script], isReady);
    const link = createModbusLink(
      { kind: 'tcp', host: '127.0.0.1', port },
      { timeoutMs: 100, connectMs: 150 },
      { nowMs: Date.now },
    );
    started.push(link);
    expect((await link.read(1, holding(0, 1))).ok).toBe(false);
    expect(link.status().trouble).toMatch(/no connection within 150 ms/);
  });
});

describe.runIf(hasProgram('mbpoll'))('mbpoll', () => {
  test.each(['tcp'] as const)(
    'reads the scripted device of these tests over %s, so that it is one',
    async (framing) => {
      const peer = await startScriptedModbus(framing);
      started.push(peer);
      const polled = await startPeer(
        'mbpoll',
        ['-m', 'tcp', '-p', String(peer.port), '-a', '3', '-0', '-r', '20', '-c', '3', '-t', '4', '-1', '127.0.0.1'],
        (out) => /\[22\]/.test(out),
      );
      started.push(polled);
      expect(polled.output()).toMatch(/\[20\]:\s+3020[\s\S]*\[21\]:\s+3021[\s\S]*\[22\]:\s+3022/);
    },
  );
});
