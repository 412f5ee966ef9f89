import { once } from 'node:events';
import { createServer } from 'node:net';
import { Aedes } from 'aedes';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type BrokerLine, type Delivery, openBrokerLine } from '../../../../ingest/sources/mqtt/_broker-line.ts';
import { freePort, type Mosquitto, startMosquitto, until } from '../../../peers/_mosquitto.ts';

function openLine(url: string, options: Parameters<typeof openBrokerLine>[1]) {
  const delivered: Delivery[] = [];
  const seen = { delivered, opened: 0, closed: 0, error: null as unknown };
  const line: BrokerLine = openBrokerLine(
    url,
    { clean: true, ...options },
    {
      opened: () => {
        seen.opened += 1;
      },
      delivered: (delivery) => delivered.push(delivery),
      closed: (error) => {
        seen.closed += 1;
        seen.error = error;
      },
    },
    Date.now,
  );
  return { line, seen };
}

describe('openBrokerLine beside mosquitto', () => {
  let broker: Mosquitto;
  beforeAll(async () => {
    broker = await startMosquitto({ lines: ['max_inflight_messages 10'] });
  });
  afterAll(() => broker.end());

  test.each([4, 5] as const)(
    'a burst is acknowledged as a whole, and lets the next one come, with protocol %i',
    async (protocolVersion) => {
      const { line, seen } = openLine(broker.url, { protocolVersion, clientId: `line-${protocolVersion}` });
      await until(() => seen.opened === 1);
      expect(await line.subscribe('burst/#')).toBe(1);
      const client = await broker.client();
      for (let n = 0; n < 35; n += 1) await client.publishAsync('burst/a', String(n), { qos: 1 });
      // No more than the broker sends ahead; what comes behind waits for the acknowledgements.
      await until(() => seen.delivered.length === 10);
      line.acknowledge(seen.delivered.map(({ messageId }) => messageId!));
      await until(() => seen.delivered.length === 35);
      line.acknowledge(seen.delivered.slice(10).map(({ messageId }) => messageId!));
      expect(seen.delivered.map(({ payload }) => Number(Buffer.from(payload).toString()))).toEqual(
        Array.from({ length: 35 }, (_, n) => n),
      );
      await line.end();
      await until(() => seen.closed === 1);
      // After its end it says nothing.
      line.acknowledge([1]);
      line.drop();
      expect(seen).toMatchObject({ opened: 1, closed: 1 });
    },
  );

  test('what was delivered and not acknowledged comes again by the next line', async () => {
    const options = { clientId: 'again', clean: false };
    const first = openLine(broker.url, options);
    await until(() => first.seen.opened === 1);
    await first.line.subscribe('again/#');
    const client = await broker.client();
    for (let n = 0; n < 5; n += 1) await client.publishAsync('again/a', String(n), { qos: 1 });
    await until(() => first.seen.delivered.length === 5);
    first.line.acknowledge([first.seen.delivered[0]!.messageId!]);
    await until(() => first.seen.delivered.length === 5);
    await first.line.end();
    const second = openLine(broker.url, options);
    await until(() => second.seen.delivered.length === 4);
    expect(second.seen.delivered.map(({ payload }) => Buffer.from(payload).toString())).toEqual(['1', '2', '3', '4']);
    await second.line.end();
  });

  test('a certificate that is none closes the line with its reason, and throws nothing', async () => {
    const { seen } = openLine(broker.url.replace('mqtt:', 'mqtts:'), {
      ca: 'nonsense',
      cert: 'nonsense',
      key: 'nonsense',
    });
    await until(() => seen.closed === 1);
    expect(seen.error).toBeInstanceOf(Error);
  });
});

test('a store that is slow does not starve the keepalive', async () => {
  const aedes = await Aedes.createBroker();
  const server = createServer(aedes.handle);
  const port = await freePort();
  server.listen(port, '127.0.0.1');
  await once(server, 'listening');
  let pings = 0;
  aedes.on('ping', () => {
    pings += 1;
  });
  const { line, seen } = openLine(`mqtt://127.0.0.1:${port}`, { keepalive: 1, clientId: 'slow' });
  await until(() => seen.opened === 1);
  await line.subscribe('slow');
  aedes.publish(
    { cmd: 'publish', topic: 'slow', payload: Buffer.from('x'), qos: 1, retain: false, dup: false },
    () => undefined,
  );
  await until(() => seen.delivered.length === 1);
  // Nothing is acknowledged meanwhile; held back by the library's own way, the second would be a time-out.
  await until(() => pings >= 3 || seen.closed > 0);
  expect(seen.closed).toBe(0);
  line.acknowledge([seen.delivered[0]!.messageId!]);
  await line.end();
  await new Promise<void>((resolve) => aedes.close(() => resolve()));
  server.close();
});
