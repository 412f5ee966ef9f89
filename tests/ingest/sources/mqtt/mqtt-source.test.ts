import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { type Mosquitto, startMosquitto, until } from '../../../peers/_mosquitto.ts';
import { startProxy } from '../../../peers/_proxy.ts';
import { configFor, line, run, stopAll, testDoor } from './_rig.ts';

const TOPIC = 'kilter/v1/millpond/unit/u1';
let broker: Mosquitto;
let names = 0;
/** A session of its own for each test. */
const own = (more = {}) => {
  names += 1;
  return configFor(broker.url, { clientId: `kilter-${names}`, ...more });
};

beforeAll(async () => {
  broker = await startMosquitto();
});
afterEach(stopAll);
afterAll(() => broker.end());

const subscribed = (source: { status(): { parts: readonly { isAnswering: boolean }[] } }) =>
  until(() => source.status().parts[0]?.isAnswering === true);

describe.each([4, 5] as const)('createMqttSource with protocol %i', (protocol) => {
  test('stores what is published, and says how it fares', async () => {
    const door = testDoor();
    const { source } = run(own({ protocol }), door);
    await subscribed(source);
    const client = await broker.client();
    for (let n = 0; n < 300; n += 1) client.publish(TOPIC, line(n), { qos: 1 });
    await until(() => door.keys.size === 300);
    expect([...door.keys.values()].every((times) => times === 1)).toBe(true);
    await until(() => source.status().readings === 300);
    expect(source.status()).toMatchObject({
      kind: 'mqtt',
      isConnected: true,
      trouble: null,
      refused: 0,
      lastReadingAt: Date.UTC(2026, 2, 2) + 299_000,
    });
    // Not one transaction a message.
    expect(door.batches.length).toBeLessThan(150);
  });

  test('takes each quality of service: 0 at most once, 1 and 2 exactly as published', async () => {
    const door = testDoor();
    const { source } = run(own({ protocol }), door);
    await subscribed(source);
    const client = await broker.client();
    for (const qos of [0, 1, 2] as const)
      for (let n = 0; n < 20; n += 1) await client.publishAsync(TOPIC, line(1000 * (qos + 1) + n), { qos });
    await until(() => door.keys.size === 60);
    expect([...door.keys.values()].every((times) => times === 1)).toBe(true);
  });

  test('what is published while it is away waits for it', async () => {
    const door = testDoor();
    const config = own({ protocol });
    const first = run(config, door);
    await subscribed(first.source);
    await first.source.stop();
    const client = await broker.client();
    for (let n = 0; n < 200; n += 1) await client.publishAsync(TOPIC, line(n), { qos: 1 });
    expect(door.keys.size).toBe(0);
    run(config, door);
    await until(() => door.keys.size === 200);
    expect([...door.keys.values()].every((times) => times === 1)).toBe(true);
  });

  test('what a full disk refuses is not acknowledged, and is stored once there is room', async () => {
    const door = testDoor();
    const config = own({ protocol });
    const { source } = run(config, door);
    await subscribed(source);
    door.failing = new Error('database or disk is full');
    const client = await broker.client();
    for (let n = 0; n < 50; n += 1) await client.publishAsync(TOPIC, line(n), { qos: 1 });
    await until(() => source.status().trouble?.includes('disk is full') === true);
    expect(source.status()).toMatchObject({ isConnected: true, readings: 0 });
    await source.stop();
    expect(door.keys.size).toBe(0);
    // The broker has kept them, because nothing was acknowledged.
    door.failing = null;
    const again = run(config, door);
    await until(() => door.keys.size === 50);
    await until(() => again.source.status().readings >= 50);
    expect(again.source.status().trouble).toBeNull();
  });

  test('a disk that has room again is used by the same connection', async () => {
    const door = testDoor();
    const { source } = run(own({ protocol }), door);
    await subscribed(source);
    door.failing = new Error('database or disk is full');
    const client = await broker.client();
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => source.status().trouble !== null);
    door.failing = null;
    await until(() => door.keys.size === 1);
    await until(() => source.status().trouble === null);
  });

  test('stop waits for what is being stored, and acknowledges it', async () => {
    const door = testDoor();
    const config = own({ protocol });
    const { source } = run(config, door);
    await subscribed(source);
    let release = (): void => undefined;
    door.hold = new Promise((resolve) => {
      release = resolve;
    });
    const client = await broker.client();
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => door.asked === 1);
    const stopping = source.stop();
    release();
    await stopping;
    door.hold = null;
    await client.publishAsync(TOPIC, line(2), { qos: 1 });
    run(config, door);
    await until(() => door.keys.size === 2);
    expect([...door.keys.values()]).toEqual([1, 1]);
  });

  test('stop comes to an end beside a door that never answers', async () => {
    const door = testDoor();
    door.hold = new Promise(() => undefined);
    const { source } = run(own({ protocol }), door);
    await subscribed(source);
    const client = await broker.client();
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => door.asked === 1);
    await expect(source.stop()).resolves.toBeUndefined();
  });

  test('acknowledgements of a connection that was cut reach no other one', async () => {
    const proxy = await startProxy(broker.port);
    const door = testDoor();
    const { source } = run({ ...own({ protocol }), url: `mqtt://127.0.0.1:${proxy.port}` }, door);
    await subscribed(source);
    let release = (): void => undefined;
    door.hold = new Promise((resolve) => {
      release = resolve;
    });
    const client = await broker.client();
    for (let n = 0; n < 40; n += 1) await client.publishAsync(TOPIC, line(n), { qos: 1 });
    await until(() => door.asked === 1);
    // The first of them are in the door; their connection goes, and comes again, before they are stored.
    proxy.cut();
    await until(() => proxy.connections === 2);
    release();
    door.hold = null;
    await until(() => door.keys.size === 40);
    // Nothing is left with the broker: another that takes the session over is sent nothing.
    await until(() => source.status().isConnected && source.status().parts[0]?.isAnswering === true);
    await source.stop();
    await proxy.end();
    expect(door.keys.size).toBe(40);
  });
});

describe('createMqttSource', () => {
  test('a retained message is stored under its own time', async () => {
    const client = await broker.client();
    await client.publishAsync('kilter/v1/kept/unit/u1', line(7), { qos: 1, retain: true });
    const door = testDoor();
    run(own(), door);
    await until(() => door.keys.size > 0);
    expect([...door.keys.keys()]).toEqual([`kept/unit/u1 ${Date.UTC(2026, 2, 2) + 7000}`]);
    await client.publishAsync('kilter/v1/kept/unit/u1', '', { qos: 1, retain: true });
  });

  test('a payload that is too large is refused by name and acknowledged', async () => {
    const door = testDoor();
    const { source } = run(own(), door);
    await subscribed(source);
    const client = await broker.client();
    await client.publishAsync(TOPIC, Buffer.alloc(1024 * 1024 + 1, 32), { qos: 1 });
    await client.publishAsync(TOPIC, line(1), { qos: 1 });
    await until(() => door.keys.size === 1);
    expect(source.status()).toMatchObject({ refused: 1, samples: [{ where: TOPIC, what: 'the payload is 1.0 MiB' }] });
  });

  test('a courier tells the offset of its clock, and a large one is said', async () => {
    const { source, offsets } = run(own(), testDoor());
    await subscribed(source);
    const client = await broker.client();
    const t = Date.UTC(2026, 2, 2);
    await client.publishAsync('kilter/v1/millpond/courier/cabinet', JSON.stringify({ t, offset_ms: -9000 }), {
      qos: 1,
    });
    await until(() => offsets.length > 0);
    expect(offsets).toEqual([{ site: 'millpond', name: 'cabinet', t, offsetMs: -9000, isMeasured: true }]);
    expect(source.status().parts.at(-1)).toMatchObject({
      name: 'courier cabinet of millpond',
      trouble: expect.stringContaining('off by -9.0 s'),
    });
  });

  test('a last will is a silence at once, which ends with the next reading', async () => {
    const door = testDoor();
    const { source } = run(own({ wills: [{ topic: 'gateways/{site}/state', silent: 'site' }] }), door);
    await subscribed(source);
    const gateway = await broker.client({
      will: { topic: 'gateways/millpond/state', payload: Buffer.from('offline'), qos: 1, retain: false },
      reconnectPeriod: 0,
    });
    gateway.stream.destroy();
    const will = () => source.status().parts.find(({ name }) => name === 'last will on gateways/millpond/state');
    await until(() => will() !== undefined);
    expect(will()).toMatchObject({ isAnswering: false, trouble: expect.stringContaining('millpond is silent') });
    expect(source.status().refused).toBe(0);
    const client = await broker.client();
    await client.publishAsync(TOPIC, JSON.stringify({ t: Date.now() + 1000, output_power_w: 1 }), { qos: 1 });
    await until(() => will()?.isAnswering === true);
    expect(will()?.trouble).toBeNull();
  });

  test('a broker that is away is tried again, and said once', async () => {
    const away = await startMosquitto();
    await away.stop();
    const door = testDoor();
    const { source, said } = run(configFor(away.url), door);
    await until(() => source.status().trouble !== null);
    expect(source.status()).toMatchObject({ isConnected: false, trouble: expect.stringContaining('nothing listens') });
    await away.start();
    await until(() => source.status().isConnected);
    expect(said.filter((one) => one.includes('nothing listens'))).toHaveLength(1);
    await source.stop();
    await away.end();
  });
});
