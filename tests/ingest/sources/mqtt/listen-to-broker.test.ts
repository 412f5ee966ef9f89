import { once } from 'node:events';
import { type AddressInfo, createServer } from 'node:net';
import { Aedes } from 'aedes';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { listenToBroker } from '../../../../ingest/sources/mqtt/listen-to-broker.ts';
import { until } from '../../../peers/_mosquitto.ts';
import { configFor } from './_rig.ts';

/** A broker of MQTT 3.1.1 that refuses subscriptions by name, and remembers who came. */
let aedes: Aedes;
let end: () => Promise<void>;
let url = '';
const clients: string[] = [];
let refuses: (filter: string) => boolean = () => false;

beforeAll(async () => {
  aedes = await Aedes.createBroker();
  aedes.authorizeSubscribe = (_, subscription, done) => done(null, refuses(subscription.topic) ? null : subscription);
  aedes.on('client', ({ id }) => clients.push(id));
  const server = createServer(aedes.handle);
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  url = `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`;
  end = () =>
    new Promise((resolve) => {
      aedes.close(() => server.close(() => resolve()));
    });
});
afterAll(() => end());

function listen(isAll: boolean) {
  const filters: string[] = [];
  const said: string[] = [];
  const failed: string[] = [];
  const listening = listenToBroker(configFor(url, { protocol: 4 }), isAll, {
    nowMs: () => 0,
    heard: () => undefined,
    listening: (held) => filters.push(...held),
    say: (line) => said.push(line),
    failed: (trouble) => failed.push(trouble),
  });
  return { listening, filters, said, failed };
}

describe('listenToBroker', () => {
  test('where everything may not be heard, the entries are all the same, and it is said', async () => {
    refuses = (filter) => filter === '#';
    const { listening, filters, said, failed } = listen(true);
    await until(() => filters.length > 0);
    await listening.stop();
    expect(filters).toEqual(['kilter/v1/+/+/+']);
    expect(said).toEqual([expect.stringMatching(/subscription to #: the broker refuses it.*right to read it/)]);
    expect(failed).toEqual([]);
    expect(clients.at(-1)).toMatch(/^kilter-[0-9a-f]{8}$/);
  });

  test('where nothing may be heard, that is the end of it', async () => {
    refuses = () => true;
    const { filters, failed } = listen(false);
    await until(() => failed.length > 0);
    expect(failed).toEqual([expect.stringContaining('subscription to kilter/v1/+/+/+: the broker refuses it')]);
    expect(filters).toEqual([]);
  });

  test('two who listen at once do not cut each other off', async () => {
    refuses = () => false;
    const [one, other] = [listen(false), listen(false)];
    await until(() => one.filters.length + other.filters.length === 2);
    expect(new Set(clients.slice(-2)).size).toBe(2);
    await Promise.all([one.listening.stop(), other.listening.stop()]);
    expect([...one.failed, ...other.failed]).toEqual([]);
  });
});
