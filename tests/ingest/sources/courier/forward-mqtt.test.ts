import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createClockWatch } from '../../../../ingest/sources/courier/clock-watch.ts';
import { forwardByMqtt, publicationsOf } from '../../../../ingest/sources/courier/forward-mqtt.ts';
import { createMqttPublisher } from '../../../../ingest/sources/mqtt/mqtt-publisher.ts';
import { createMqttSource } from '../../../../ingest/sources/mqtt/mqtt-source.ts';
import type { CourierOffset } from '../../../../ingest/wire/mqtt/message.ts';
import { type Mosquitto, startMosquitto, until } from '../../../peers/_mosquitto.ts';
import { configFor, testDoor } from '../mqtt/_rig.ts';

const line = (unit: string, t: number): string =>
  JSON.stringify({ t, site: 'millpond', unit, output_power_w: 7, note: 'é' });
const never = new AbortController().signal;

describe('publicationsOf', () => {
  test('one message a source, without what the topic says; one line alone is no list', () => {
    const sites = new Set<string>();
    const lines = [line('u1', 1), line('u2', 2), line('u1', 3), JSON.stringify({ t: 4, site: 'hill', bank: 'bank' })];
    expect(publicationsOf(lines, sites)).toEqual([
      {
        topic: 'kilter/v1/millpond/unit/u1',
        payload: '[{"t":1,"output_power_w":7,"note":"é"},{"t":3,"output_power_w":7,"note":"é"}]',
      },
      { topic: 'kilter/v1/millpond/unit/u2', payload: '{"t":2,"output_power_w":7,"note":"é"}' },
      { topic: 'kilter/v1/hill/bank/bank', payload: '{"t":4}' },
    ]);
    expect([...sites]).toEqual(['millpond', 'hill']);
  });

  test('long lists go in several messages, no line is lost', () => {
    const lines = Array.from({ length: 5000 }, (_, t) => line('u1', t));
    const messages = publicationsOf(lines, new Set());
    expect(messages.length).toBeGreaterThan(2);
    expect(Math.max(...messages.map(({ payload }) => payload.length))).toBeLessThan(70_000);
    expect(messages.flatMap(({ payload }) => JSON.parse(payload) as unknown[])).toHaveLength(5000);
  });
});

describe('through a broker', () => {
  let broker: Mosquitto;
  beforeEach(async () => {
    broker = await startMosquitto();
  });
  afterEach(() => broker.end());

  const forwarderTo = (url: string) => {
    const clock = createClockWatch({ nowMs: Date.now, elapsedMs: () => performance.now(), say: () => undefined });
    const publisher = createMqttPublisher(configFor(url, { clientId: 'courier-under-test' }));
    return forwardByMqtt({ publisher, broker: 'broker', clock, courier: 'garden', nowMs: Date.now });
  };

  test('while nobody listens nothing counts as sent; then each line arrives, with the word about the clock', async () => {
    const forwarder = forwarderTo(broker.url);
    const lines = [line('u1', 1000), line('u2', 1000), line('u1', 2000)];
    expect(await forwarder.send(lines, never)).toMatchObject({
      kind: 'later',
      trouble: expect.stringContaining('nobody is subscribed'),
    });
    const door = testDoor();
    const offsets: CourierOffset[] = [];
    const source = createMqttSource(configFor(broker.url), door, {
      nowMs: Date.now,
      say: () => undefined,
      hearOffset: (offset) => offsets.push(offset),
    });
    source.start();
    await until(() => source.status().isConnected);
    let outcome = await forwarder.send(lines, never);
    while (outcome.kind !== 'taken') outcome = await forwarder.send(lines, never);
    await until(() => door.keys.size === 3 && offsets.length > 0);
    expect([...door.keys.keys()].sort()).toEqual([
      'millpond/unit/u1 1000',
      'millpond/unit/u1 2000',
      'millpond/unit/u2 1000',
    ]);
    expect(offsets[0]).toMatchObject({ site: 'millpond', name: 'garden', offsetMs: 0 });
    await forwarder.stop();
    await source.stop();
  });

  test('a broker that is gone is said in words, and found again', async () => {
    const forwarder = forwarderTo(broker.url);
    const listener = await broker.client();
    await listener.subscribeAsync('kilter/v1/#');
    expect(await forwarder.send([line('u1', 1)], never)).toMatchObject({ kind: 'taken' });
    await broker.stop('SIGKILL');
    expect(await forwarder.send([line('u1', 2)], never)).toMatchObject({
      kind: 'later',
      trouble: expect.stringMatching(/\w/),
    });
    expect(await forwarder.send([line('u1', 2)], never)).toMatchObject({
      kind: 'later',
      trouble: expect.stringContaining('nothing listens at this address'),
    });
    await broker.start();
    const again = await broker.client();
    await again.subscribeAsync('kilter/v1/#');
    expect(await forwarder.send([line('u1', 2)], never)).toMatchObject({ kind: 'taken' });
    await forwarder.stop();
  });
});
