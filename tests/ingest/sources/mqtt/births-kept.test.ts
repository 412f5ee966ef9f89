/** A worker that ended without a word, and the next one in its session: births at QoS 1, data by alias. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { createSourceMemory } from '../../../../ingest/sources/source-memory.ts';
import { type Mosquitto, startMosquitto, until } from '../../../peers/_mosquitto.ts';
import { AT, ENTRY, ForeignNode, UNIT_BIRTH } from '../../wire/sparkplug/_node.ts';
import { configFor, run, stopAll, testDoor } from './_rig.ts';

let broker: Mosquitto;
let folder = '';
beforeAll(async () => {
  broker = await startMosquitto();
  folder = mkdtempSync(join(tmpdir(), 'kilter-births-'));
});
afterAll(async () => {
  await broker.end();
  rmSync(folder, { recursive: true, force: true });
});
afterEach(stopAll);

const power = (n: number) => ({ alias: 1, type: 'Int32', value: n, timestamp: AT + n * 1000 });

describe('births are kept', () => {
  test('data by alias that a broker held while no worker ran is stored by the next one', async () => {
    const config = configFor(broker.url, { topics: [ENTRY], clientId: 'births-kept' });
    const memory = createSourceMemory(folder, config.name);
    const node = new ForeignNode();
    const client = await broker.client();
    const say = ({ topic, payload }: { topic: string; payload: unknown }) =>
      client.publishAsync(topic, Buffer.from(payload as Uint8Array), { qos: 1 });
    const first = testDoor();
    const running = run(config, first, { memory });
    await until(() => running.source.status().parts[0]?.isAnswering === true);
    await say(node.birth());
    await say(node.say('DBIRTH', 'inv-a', UNIT_BIRTH));
    await until(() => first.keys.size === 1);
    await stopAll();
    for (let n = 1; n <= 20; n += 1) await say(node.say('DDATA', 'inv-a', [power(n)]));
    const second = testDoor();
    const next = run(config, second, { memory });
    await until(() => second.keys.size === 20);
    expect(next.source.status().refused).toBe(0);
  });

  test('where the broker has no session, births were missed: what was kept is not used, and the node is asked once', async () => {
    const config = configFor(broker.url, {
      topics: [{ ...ENTRY, mayAskForBirth: true }],
      clientId: 'births-asked',
      name: 'births asked',
    });
    const node = new ForeignNode();
    const client = await broker.client();
    const commands: string[] = [];
    client.on('message', (topic, _, { qos, retain }) => commands.push(`${topic} ${qos} ${retain}`));
    await client.subscribeAsync('spBv1.0/valley/NCMD/gw-7', { qos: 1 });
    const say = ({ topic, payload }: { topic: string; payload: unknown }) =>
      client.publishAsync(topic, Buffer.from(payload as Uint8Array), { qos: 1 });
    const kept = { load: () => ({ 'spBv1.0/valley/#': { 'gw-7': KEPT } }), save: () => undefined };
    const door = testDoor();
    const { source } = run(config, door, { memory: kept });
    await until(() => source.status().parts[0]?.isAnswering === true);
    for (let n = 1; n <= 5; n += 1) await say(node.say('DDATA', 'inv-a', [power(n)]));
    await until(() => source.status().refused === 5 && commands.length > 0);
    expect([commands, door.keys.size]).toEqual([['spBv1.0/valley/NCMD/gw-7 0 false'], 0]);
  });
});

const KEPT = {
  bdSeq: '0',
  node: { life: 'born', bornAt: AT, names: [], aliases: [] },
  devices: [['inv-a', { life: 'born', bornAt: AT, names: [], aliases: [['1', 'Output/Power', 3]] }]],
};
