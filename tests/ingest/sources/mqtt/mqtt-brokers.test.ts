import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Aedes } from 'aedes';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type Certificates, makeCertificates } from '../../../peers/_certificates.ts';
import { freePort, type Mosquitto, SAVES_EACH_CHANGE, startMosquitto, until } from '../../../peers/_mosquitto.ts';
import { startProxy } from '../../../peers/_proxy.ts';
import { configFor, line, run, stopAll, testDoor } from './_rig.ts';

const TOPIC = 'kilter/v1/millpond/unit/u1';
const KILLS = Number(process.env.KILTER_KILLS ?? 2);
const isReady = (source: ReturnType<typeof run>['source']) => () => source.status().parts[0]?.isAnswering === true;

afterEach(stopAll);

describe('over TLS, with a certificate of our own', () => {
  let folder: string;
  let made: Certificates;
  let broker: Mosquitto;
  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'kilter-certificates-'));
    made = makeCertificates(folder);
    broker = await startMosquitto({
      isTls: true,
      lines: [
        `cafile ${made.ca}`,
        `certfile ${made.serverCert}`,
        `keyfile ${made.serverKey}`,
        'require_certificate true',
      ],
    });
  });
  afterAll(async () => {
    await broker.end();
    rmSync(folder, { recursive: true, force: true });
  });

  test('readings come through', async () => {
    const door = testDoor();
    const mine = { caFile: made.ca, certFile: made.clientCert, keyFile: made.clientKey };
    const { source } = run(configFor(broker.url, mine), door);
    await until(isReady(source));
    const { readFileSync } = await import('node:fs');
    const client = await broker.client({
      ca: readFileSync(made.ca),
      cert: readFileSync(made.clientCert),
      key: readFileSync(made.clientKey),
    });
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => door.keys.size === 1);
    expect(source.status().trouble).toBeNull();
  });

  test('a certificate of somebody we do not trust is said in words, and nothing is sent', async () => {
    const { source } = run(configFor(broker.url, { caFile: made.strangerCa }), testDoor());
    await until(() => source.status().trouble !== null);
    expect(source.status()).toMatchObject({
      isConnected: false,
      trouble: expect.stringContaining('signed by nobody we trust'),
    });
  });

  test('a broker that wants a certificate of us says so', async () => {
    const { source } = run(configFor(broker.url, { caFile: made.ca }), testDoor());
    await until(() => source.status().trouble !== null);
    expect(source.status().trouble).toMatch(/certificate|cut/);
  });

  test('TLS that meets no TLS, and a file that is gone, are troubles and no crash', async () => {
    const plain = run(configFor(broker.url.replace('mqtts', 'mqtt')), testDoor());
    const gone = run(configFor(broker.url, { caFile: join(folder, 'nowhere.pem') }), testDoor());
    await until(() => plain.source.status().trouble !== null && gone.source.status().trouble !== null);
    expect(gone.source.status().trouble).toContain('no such file');
  });
});

describe('users of a broker', () => {
  test('a broker that speaks only MQTT 3.1.1 says which protocol to choose', async () => {
    const { port, end } = await listen(await Aedes.createBroker());
    const { source } = run(configFor(`mqtt://127.0.0.1:${port}`), testDoor());
    await until(() => source.status().trouble !== null);
    expect(source.status().trouble).toContain('set protocol: 4');
    await source.stop();
    await end();
  });

  test('a wrong password is said; a password file is read anew at each attempt', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-users-'));
    const file = join(folder, 'password');
    writeFileSync(file, 'wrong\n');
    const aedes = await Aedes.createBroker();
    aedes.authenticate = (_client, user, password, done) =>
      done(null, user === 'valley' && password?.toString() === 'right');
    const { port, end } = await listen(aedes);
    const config = configFor(`mqtt://127.0.0.1:${port}`, { protocol: 4, username: 'valley', passwordFile: file });
    const { source } = run(config, testDoor());
    await until(() => source.status().trouble !== null);
    expect(source.status().trouble).toMatch(/user|password|let this client in/);
    writeFileSync(file, 'right\n');
    await until(() => source.status().isConnected);
    await source.stop();
    await end();
    rmSync(folder, { recursive: true });
  });

  test('a subscription that the broker refuses is shown, and the others work', async () => {
    const aedes = await Aedes.createBroker();
    aedes.authorizeSubscribe = (_client, subscription, done) =>
      done(null, subscription.topic.startsWith('secret') ? null : subscription);
    const { port, end } = await listen(aedes);
    const value = { quantity: 'load_pct', pointer: '/l', factor: 1, states: null };
    const secret = {
      reads: 'json',
      topic: 'secret/{site}/{unit}',
      site: null,
      source: null,
      time: null,
      values: [value],
    } as const;
    const door = testDoor();
    const { source } = run(
      configFor(`mqtt://127.0.0.1:${port}`, { protocol: 4, topics: [{ reads: 'kilter' }, secret] }),
      door,
    );
    await until(() => source.status().parts[1]?.trouble !== null);
    expect(source.status()).toMatchObject({ isConnected: true, trouble: null });
    expect(source.status().parts[1]).toMatchObject({
      name: 'secret/{site}/{unit}',
      isAnswering: false,
      trouble: expect.stringContaining('refuses it with code 128'),
    });
    await until(isReady(source));
    aedes.publish(
      { cmd: 'publish', topic: TOPIC, payload: Buffer.from(line(1)), qos: 1, retain: false, dup: false },
      () => undefined,
    );
    await until(() => door.keys.size === 1);
    await source.stop();
    await end();
  });
});

async function listen(aedes: Aedes): Promise<{ readonly port: number; end(): Promise<void> }> {
  const server: Server = createServer(aedes.handle);
  const port = await freePort();
  server.listen(port, '127.0.0.1');
  await once(server, 'listening');
  return {
    port,
    async end() {
      await new Promise<void>((resolve) => aedes.close(() => resolve()));
      server.close();
    },
  };
}

describe('lines that fail', () => {
  test('a broker that restarts, forgetting us, is subscribed to anew', async () => {
    const broker = await startMosquitto({ lines: ['persistence false'] });
    const door = testDoor();
    const { source } = run(configFor(broker.url), door);
    await until(isReady(source));
    await broker.stop('SIGKILL');
    await until(() => !source.status().isConnected);
    await broker.start();
    await until(() => source.status().isConnected && isReady(source)());
    const client = await broker.client();
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => door.keys.size === 1);
    await source.stop();
    await broker.end();
  });

  test.each([4, 5] as const)(
    'a broker killed under traffic loses nothing that it had taken, with protocol %i',
    async (protocol) => {
      const broker = await startMosquitto({ lines: SAVES_EACH_CHANGE });
      const door = testDoor();
      const { source } = run(configFor(broker.url, { protocol }), door);
      await until(isReady(source));
      const client = await broker.client({ clientId: 'gateway', clean: false });
      const sent: Promise<unknown>[] = [];
      let n = 0;
      for (let kill = 0; kill < KILLS; kill += 1) {
        for (const last = n + 40; n < last; n += 1) sent.push(client.publishAsync(TOPIC, line(n), { qos: 1 }));
        await until(() => door.keys.size > n - 40);
        await broker.stop('SIGKILL');
        await broker.start();
      }
      await Promise.all(sent);
      await until(() => door.keys.size === n);
      expect(door.keys.size).toBe(40 * KILLS);
      await source.stop();
      await broker.end();
    },
    20_000 + KILLS * 6000,
  );

  test('more than there is room for stays with the broker, and comes by another connection', async () => {
    const broker = await startMosquitto();
    const door = testDoor();
    const { source } = run(configFor(broker.url, { protocol: 4 }), door);
    await until(isReady(source));
    let release = (): void => undefined;
    door.hold = new Promise((resolve) => {
      release = resolve;
    });
    const client = await broker.client();
    const pad = 'x'.repeat(1024 * 1024 - 200);
    for (let n = 0; n < 80; n += 1)
      await client.publishAsync(TOPIC, JSON.stringify({ t: Date.UTC(2026, 2, 2) + n * 1000, pad }), { qos: 1 });
    await until(() => door.asked === 1);
    release();
    door.hold = null;
    await until(() => door.keys.size === 80);
    expect(source.status()).toMatchObject({ refused: 0 });
    await source.stop();
    await broker.end();
  });

  test('a slow and lossy line brings everything', async () => {
    const broker = await startMosquitto();
    const proxy = await startProxy(broker.port);
    const door = testDoor();
    proxy.delayMs = 15;
    const { source } = run(configFor(`mqtt://127.0.0.1:${proxy.port}`), door);
    await until(isReady(source));
    const client = await broker.client();
    for (let n = 0; n < 400; n += 1) {
      await client.publishAsync(TOPIC, line(n), { qos: 1 });
      if (n === 150 || n === 300) {
        const before = proxy.connections;
        expect(proxy.cut()).toBe(1);
        await until(() => proxy.connections > before && isReady(source)());
      }
    }
    await until(() => door.keys.size === 400);
    await source.stop();
    await proxy.end();
    await broker.end();
  });
});
