import { createServer } from 'node:net';
import { afterEach, describe, expect, test } from 'vitest';
import { createModbusLink, type LinkAnswer, type ModbusLink } from '../../../../ingest/sources/modbus/modbus-link.ts';
import type { RegisterRead } from '../../../../ingest/wire/modbus/dialogue.ts';
import {
  answerAtOnce,
  type Framing,
  type Script,
  type ScriptedPeer,
  startScriptedModbus,
  valuesOf,
} from '../../../peers/_scripted-modbus.ts';

const TIMEOUT_MS = 120;
const opened: { stop?(): Promise<void>; close?(): Promise<void> }[] = [];

afterEach(async () => {
  await Promise.all(opened.splice(0).map((each) => each.close?.() ?? each.stop?.()));
});

async function peerAndLink(framing: Framing, script?: Script): Promise<{ peer: ScriptedPeer; link: ModbusLink }> {
  const peer = await startScriptedModbus(framing, script);
  const kind = framing === 'tcp' ? 'tcp' : 'rtu_over_tcp';
  const link = createModbusLink(
    { kind, host: '127.0.0.1', port: peer.port },
    { timeoutMs: TIMEOUT_MS },
    { nowMs: Date.now, random: () => 0 },
  );
  opened.push(link, peer);
  return { peer, link };
}

const holding = (address: number, count: number): RegisterRead => ({ table: 'holding', address, count });
const right = (unit: number, { address, count }: RegisterRead): number[] => valuesOf({ unit, address, count });
const wordsOf = (answer: LinkAnswer): number[] | null => (answer.ok ? [...answer.words] : null);
const later = (ms: number, act: () => void): void => void setTimeout(act, ms);
const pause = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

describe.each(['tcp', 'rtu'] as const)('createModbusLink over %s framing', (framing) => {
  test('reads each of the four tables as it was asked', async () => {
    const { link, peer } = await peerAndLink(framing);
    expect(wordsOf(await link.read(7, holding(30, 3)))).toEqual([7030, 7031, 7032]);
    expect(wordsOf(await link.read(7, { table: 'input', address: 1, count: 125 }))).toHaveLength(125);
    expect(wordsOf(await link.read(7, { table: 'coil', address: 4, count: 3 }))).toEqual([0, 1, 0]);
    expect(wordsOf(await link.read(7, { table: 'discrete', address: 0, count: 11 }))).toHaveLength(11);
    expect(peer.requests.map(({ code }) => code)).toEqual([3, 4, 1, 2]);
    expect(link.status()).toMatchObject({ isConnected: true, answers: 4, unanswered: 0, connections: 1 });
  });

  test('has one request in flight, and gives each of many callers its own answer', async () => {
    let inFlight = 0;
    let most = 0;
    const { link } = await peerAndLink(framing, (request, peer) => {
      inFlight += 1;
      most = Math.max(most, inFlight);
      later(1, () => {
        inFlight -= 1;
        request.socket.write(peer.answer(request, valuesOf(request)));
      });
    });
    const asked = Array.from({ length: 120 }, (_, i) => ({ unit: (i % 12) + 1, read: holding(i, (i % 5) + 1) }));
    const answers = await Promise.all(asked.map(({ unit, read }) => link.read(unit, read)));
    expect(answers.map(wordsOf)).toEqual(asked.map(({ unit, read }) => right(unit, read)));
    expect(most).toBe(1);
  });

  test('serves devices in turn, however many requests one of them has waiting', async () => {
    const { link, peer } = await peerAndLink(framing);
    await Promise.all([
      ...[0, 1, 2, 3].map((address) => link.read(1, holding(address, 1))),
      link.read(2, holding(0, 1)),
      link.read(3, holding(0, 1)),
    ]);
    expect(peer.requests.map(({ unit }) => unit)).toEqual([1, 1, 2, 3, 1, 1]);
  });

  test.each([1, 2, 3, 4, 5, 6])('hands on exception %i as what the device said', async (code) => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      request.socket.write(peer.exception(request, code));
    });
    expect(await link.read(1, holding(0, 2))).toMatchObject({ ok: false, exception: code });
    expect(link.status()).toMatchObject({ exceptions: 1, unanswered: 0, connections: 1 });
  });

  test.each([0x0a, 0x0b])('takes gateway exception %i as no answer of the device', async (code) => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      request.socket.write(peer.exception(request, code));
    });
    expect(await link.read(1, holding(0, 2))).toMatchObject({ ok: false, exception: null });
    expect(link.status()).toMatchObject({ exceptions: 0, unanswered: 1 });
    expect(link.status().samples[0]).toMatchObject({ where: 'address 1', what: expect.stringContaining('gateway') });
  });

  test('says that no answer came, and asks the next device all the same', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      if (request.unit !== 9) answerAtOnce(request, peer);
    });
    const [dead, alive] = await Promise.all([link.read(9, holding(0, 2)), link.read(1, holding(0, 2))]);
    expect(dead).toMatchObject({ ok: false, exception: null, why: expect.stringContaining('no answer within') });
    expect(wordsOf(alive)).toEqual([1000, 1001]);
  });

  test('a late answer is never that of the next request, whatever is asked next', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      // The first answer of each unit comes late, on whatever connection there is: what a serial gateway does.
      const isLate = peer.requests.filter(({ unit }) => unit === request.unit).length === 1;
      if (isLate) later(TIMEOUT_MS * 1.4, () => peer.sendToNewest(bytes));
      else later(TIMEOUT_MS * 0.6, () => request.socket.write(bytes));
    });
    for (const unit of [1, 2, 3]) {
      expect(wordsOf(await link.read(unit, holding(10, 2)))).toBeNull();
      for (const address of [20, 30, 40]) {
        const words = wordsOf(await link.read(unit, holding(address, 2)));
        expect([null, right(unit, holding(address, 2))]).toContainEqual(words);
      }
      expect(wordsOf(await link.read(unit, holding(50, 2)))).toEqual(right(unit, holding(50, 2)));
    }
    expect(link.status().strayBytes).toBeGreaterThan(0);
  });

  test('a late exception is never that of the next request', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      if (request.number === 1) later(TIMEOUT_MS * 1.2, () => peer.sendToNewest(peer.exception(request, 2)));
      else later(TIMEOUT_MS * 0.5, () => answerAtOnce(request, peer));
    });
    await link.read(1, holding(10, 2));
    expect(wordsOf(await link.read(1, holding(20, 2)))).toEqual([1020, 1021]);
    expect(wordsOf(await link.read(1, holding(30, 2)))).toEqual([1030, 1031]);
  });

  test('an answer of another unit, another function or another length is not taken', async () => {
    // In place of unit 5, function 3, 6 bytes.
    for (const head of [
      [6, 3, 6],
      [5, 4, 6],
      [5, 3, 4],
      [5, 3, 8],
      [5, 3, 0],
    ]) {
      const { link } = await peerAndLink(framing, (request, peer) => {
        const whole = peer.answer(request, [1, 2, 3]);
        const message = framing === 'tcp' ? whole.subarray(6) : whole.subarray(0, -2);
        message.set(head);
        request.socket.write(peer.frame(message, request.transaction));
      });
      expect(await link.read(5, holding(0, 3))).toMatchObject({ ok: false, exception: null });
    }
  });

  test('answers that are too short or too long are not taken, and the next is right', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      const lengths = [1, 7, 0, 120];
      const count = lengths[request.number - 1] ?? request.count;
      request.socket.write(peer.answer(request, valuesOf({ ...request, count })));
    });
    for (let i = 0; i < 4; i += 1) expect(wordsOf(await link.read(1, holding(0, 2)))).toBeNull();
    expect(wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
  });

  test('reads answers that come in pieces, a byte at a time', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      bytes.forEach((_, i) => {
        later(i * 2, () => request.socket.write(bytes.subarray(i, i + 1)));
      });
    });
    expect(wordsOf(await link.read(1, holding(0, 6)))).toEqual(right(1, holding(0, 6)));
  });

  test('an answer sent twice is taken once, and not by the next request', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      request.socket.write(Buffer.concat([bytes, bytes]));
    });
    for (const address of [0, 10, 20]) {
      expect(wordsOf(await link.read(1, holding(address, 2)))).toEqual(right(1, holding(address, 2)));
    }
  });

  test('a peer that closes after each answer is read all the same', async () => {
    const { link, peer } = await peerAndLink(framing, (request, peer) => {
      request.socket.end(peer.answer(request, valuesOf(request)));
    });
    for (let i = 0; i < 8; i += 1) expect(wordsOf(await link.read(1, holding(i, 2)))).toEqual(right(1, holding(i, 2)));
    expect(peer.connections).toBeGreaterThanOrEqual(8);
  });

  test('a connection that breaks off amid an answer costs that answer at most, and at once', async () => {
    const { link } = await peerAndLink(framing, (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      if (request.connection > 1 || request.number < 3) {
        request.socket.write(bytes);
        return;
      }
      request.socket.write(bytes.subarray(0, -3));
      later(5, () => request.socket.resetAndDestroy());
    });
    for (let i = 0; i < 5; i += 1) expect(wordsOf(await link.read(1, holding(i, 2)))).toEqual(right(1, holding(i, 2)));
    expect(link.status()).toMatchObject({ unanswered: 0, connections: 2 });
  });

  test('refuses by RangeError what the protocol does not allow', async () => {
    const { link } = await peerAndLink(framing);
    await expect(link.read(1, holding(0, 126))).rejects.toThrow('1 to 125 can be');
    await expect(link.read(1, holding(0, 0))).rejects.toThrow(RangeError);
    await expect(link.read(1, holding(65_500, 100))).rejects.toThrow('addresses end at 65535');
    await expect(link.read(256, holding(0, 1))).rejects.toThrow('0 to 255');
    await expect(link.read(1, { table: 'coil', address: 0, count: 2001 })).rejects.toThrow(RangeError);
  });

  test('closes at once, with an answer for everything that waits', async () => {
    const { link } = await peerAndLink(framing, () => undefined);
    const waiting = [1, 2, 3].map((unit) => link.read(unit, holding(0, 1)));
    await pause(20);
    await link.close();
    expect((await Promise.all(waiting)).map(({ ok }) => ok)).toEqual([false, false, false]);
    expect((await link.read(1, holding(0, 1))).ok).toBe(false);
    await link.close();
  });

  test('closes though the peer has gone', async () => {
    const { link, peer } = await peerAndLink(framing);
    await link.read(1, holding(0, 1));
    await peer.stop();
    await link.close();
  });
});

describe('createModbusLink', () => {
  test('an answer with another transaction number is not taken', async () => {
    const { link } = await peerAndLink('tcp', (request, peer) => {
      const transaction = request.transaction + (request.number === 1 ? 1 : 0);
      request.socket.write(peer.answer({ ...request, transaction }, valuesOf(request)));
    });
    expect(wordsOf(await link.read(1, holding(0, 2)))).toBeNull();
    expect(wordsOf(await link.read(1, holding(4, 2)))).toEqual([1004, 1005]);
  });

  test('a stream that is no Modbus TCP is given up, and another begun', async () => {
    const { link } = await peerAndLink('tcp', (request, peer) => {
      if (request.connection === 1) request.socket.write('HTTP/1.1 400 Bad Request\r\n\r\n');
      else answerAtOnce(request, peer);
    });
    expect(wordsOf(await link.read(1, holding(0, 2)))).toBeNull();
    await expect.poll(async () => wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
  });

  test('a frame that promises more than it brings does not swallow the next answer', async () => {
    const { link } = await peerAndLink('tcp', (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      if (request.number === 2) bytes.writeUInt16BE(40, 4);
      request.socket.write(bytes);
    });
    expect(wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
    expect(wordsOf(await link.read(1, holding(2, 2)))).toBeNull();
    expect(wordsOf(await link.read(1, holding(4, 2)))).toEqual([1004, 1005]);
    expect(link.status().connections).toBe(2);
  });

  test('over RTU, noise before an answer is passed over, and an answer with a wrong check sum is not taken', async () => {
    const { link } = await peerAndLink('rtu', (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      if (request.number === 2) bytes[4]! ^= 0x10;
      request.socket.write(Buffer.concat([Buffer.from([0, 1, 3, 0xff, 1]), bytes]));
    });
    expect(wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
    expect(wordsOf(await link.read(1, holding(2, 2)))).toBeNull();
    expect(wordsOf(await link.read(1, holding(4, 2)))).toEqual([1004, 1005]);
  });

  test('over RTU, endless noise holds no memory and no device up', async () => {
    const { link, peer } = await peerAndLink('rtu', (request) => {
      for (let i = 0; i < 50; i += 1) request.socket.write(Buffer.alloc(4096, 0x01));
    });
    expect(wordsOf(await link.read(1, holding(0, 2)))).toBeNull();
    peer.script = answerAtOnce;
    await expect.poll(async () => wordsOf(await link.read(1, holding(0, 2)))).toEqual([1000, 1001]);
    expect(link.status().strayBytes).toBeGreaterThan(100_000);
  });

  test('after three silences a connection is made anew', async () => {
    const { link, peer } = await peerAndLink('tcp', (request, peer) => {
      if (request.connection > 1 || request.number === 1) answerAtOnce(request, peer);
    });
    await link.read(1, holding(0, 1));
    for (let i = 0; i < 3; i += 1) await link.read(1, holding(0, 1));
    expect(wordsOf(await link.read(1, holding(0, 1)))).toEqual([1000]);
    expect(peer.connections).toBe(2);
  });

  test('says why there is no connection, does not hammer, and comes back', async () => {
    const server = createServer();
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const port = (server.address() as { port: number }).port;
    await new Promise((resolve) => server.close(resolve));
    const link = createModbusLink(
      { kind: 'tcp', host: '127.0.0.1', port },
      { timeoutMs: TIMEOUT_MS },
      { nowMs: () => 1_700_000_000_000, random: () => 0 },
    );
    opened.push(link);
    const answers = await Promise.all(Array.from({ length: 20 }, () => link.read(1, holding(0, 1))));
    expect(answers.every(({ ok }) => !ok)).toBe(true);
    expect(link.status()).toMatchObject({
      isConnected: false,
      since: 1_700_000_000_000,
      trouble: `127.0.0.1:${port}: the connection is refused: nothing listens there`,
      unanswered: 20,
    });
  });
});
