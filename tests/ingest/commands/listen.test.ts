import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Io } from '../../../ingest/commands/command.ts';
import { listenCommand } from '../../../ingest/commands/listen.ts';
import { runKilter } from '../../../ingest/commands/run-kilter.ts';
import { listenToBroker } from '../../../ingest/sources/mqtt/listen-to-broker.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { readBrokers } from '../../../server/process/read-brokers.ts';
import { freePort, type Mosquitto, startMosquitto, until } from '../../peers/_mosquitto.ts';

const TOPICS = `    topics:
      - { reads: kilter }
      - reads: json
        topic: "plants/{site}/inverters/{unit}/state"
        time: { pointer: /ts, format: epoch_s }
        values:
          output_power_w: { pointer: /out/kw, factor: 1000 }
          mode: { pointer: /state, states: { "ON GRID": grid } }
`;

let folder = '';
let broker: Mosquitto;
let client: MqttClient;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-listen-'));
  broker = await startMosquitto();
  client = await broker.client();
});
afterAll(async () => {
  await broker.end();
  rmSync(folder, { recursive: true });
});

function configFile(name: string, ...urls: readonly string[]): string {
  const file = join(folder, name);
  const sources = urls.map((url, k) => `  - kind: mqtt\n    url: ${url}\n    client_id: kilter-valley-${k}\n${TOPICS}`);
  // No environment holds the token of the other source, nor is there a data folder: neither is asked for.
  writeFileSync(
    file,
    `sources:\n  - { kind: push, tokens: [{ token_env: NOWHERE, sites: [millpond] }] }\n${sources.join('')}`,
  );
  return file;
}

/** Runs the command; `whenListening` is called as soon as it says that it listens. */
async function listen(args: readonly string[], whenListening: () => Promise<unknown> = async () => undefined) {
  const out: string[] = [];
  const err: string[] = [];
  let published: Promise<unknown> = Promise.resolve();
  const io: Io = {
    out: (line) => out.push(line),
    err(line) {
      err.push(line);
      if (line.includes('listening to')) published = whenListening();
    },
    draw: () => undefined,
    drained: () => Promise.resolve(),
    outIsTerminal: false,
    errIsTerminal: false,
    columns: 100,
    now: () => epochMs(Date.UTC(2026, 2, 2)),
    onStop: () => undefined,
  };
  const command = listenCommand({ readBrokers: (file) => readBrokers(file, {}), listen: listenToBroker });
  const code = await runKilter({ commands: [command], version: '0', isDebug: false }, ['listen', ...args], io);
  await published;
  return { code, out, err, text: out.join('\n') };
}

const STATE = 'plants/millpond/inverters/u1/state';
const publish = (topic: string, value: unknown, retain = false) =>
  client.publishAsync(topic, typeof value === 'string' ? value : JSON.stringify(value), { qos: 1, retain });

describe('kilter listen', () => {
  test('says of each message what matched, what it would store in the vocabulary, or why it is refused', async () => {
    const file = configFile('all.yaml', broker.url);
    await publish(STATE, { ts: 1772431200, out: { kw: 1.2151 }, state: 'ON GRID' }, true);
    const { code, text, err } = await listen(['--config', file, '--all', '--count', '5'], async () => {
      await publish(STATE, { ts: 1772431210, out: { kw: 'much' }, state: 'ON GRID' });
      await publish(STATE, { ts: 1772431220, out: { kw: 1 }, state: 'ISLAND' });
      await publish('gateways/7/debug', 'hello');
      await publish('kilter/v1/millpond/unit/u2', {
        t: '2026-03-02T06:00:00Z',
        fan_rpm: 900,
        settings: { firmware: '2' },
      });
    });
    await publish(STATE, '', true);
    expect([code, err]).toEqual([0, [expect.stringContaining('listening to #;')]]);
    expect(text).toContain(
      `${STATE} (retained)\n  matches plants/{site}/inverters/{unit}/state\n  would store millpond unit u1 at 2026-03-02T06:00:00.000Z: output_power_w 1215 W, mode grid`,
    );
    expect(text).toContain('refused: /out/kw: output_power_w is "much"; give a number in W');
    expect(text).toContain('gateways/7/debug\n  no entry matches\n  payload: "hello"');
    expect(text).toContain('millpond unit u2 at 2026-03-02T06:00:00.000Z: extra fan_rpm 900, setting firmware "2"');
    expect(text).toContain('5 messages in 0 s: 4 matched, 1 not');
    expect(text).toContain('{unit}/state: 3 messages, 2 readings, 1 refused');
    expect(text).toContain('would store 3 readings, 1 with settings; nothing was stored');
    expect(text).toContain('1 × gateways/7/debug');
    expect(text).toContain('left out: plants/{site}/inverters/{unit}/state: mode knows no "ISLAND" (1 ×)');
  });

  test('with --json prints one object a line, and the summary last', async () => {
    const file = configFile('json.yaml', broker.url);
    const { out, err } = await listen(['--config', file, '--source', '2', '--count', '1', '--json'], () =>
      publish(STATE, { ts: 1772431200, out: { kw: 2 } }),
    );
    expect(err[0]).toContain('listening to kilter/v1/+/+/+, plants/+/inverters/+/state');
    const [message, summary] = out.map((line) => JSON.parse(line));
    expect(message).toEqual({
      kind: 'message',
      source: expect.stringContaining('as kilter-valley-0'),
      topic: STATE,
      retained: false,
      matches: ['plants/{site}/inverters/{unit}/state'],
      would_store: [{ t: '2026-03-02T06:00:00.000Z', site: 'millpond', unit: 'u1', output_power_w: 2000 }],
      refused: [],
      payload: JSON.stringify('{"ts":1772431200,"out":{"kw":2}}'),
    });
    expect(summary).toMatchObject({ kind: 'summary', messages: 1, matched: 1, unmatched: 0, readings: 1, refused: 0 });
    expect(summary.entries[0]).toMatchObject({ entry: 'kilter/v1/+/+/+', messages: 0 });
  });

  test('the session of the configured client is left as it is, and nothing is published', async () => {
    const file = configFile('session.yaml', broker.url);
    const mine = { clientId: 'kilter-valley-0', clean: false } as const;
    const first = await broker.client(mine);
    await first.subscribeAsync(STATE, { qos: 1 });
    await first.endAsync();
    const onlooker = await broker.client();
    const seen: string[] = [];
    onlooker.on('message', (topic) => seen.push(topic));
    await onlooker.subscribeAsync('#');
    await listen(['--config', file, '--count', '1'], () => publish(STATE, { ts: 1772431200, out: { kw: 1 } }));
    const kept: string[] = [];
    first.on('message', (topic) => kept.push(topic));
    first.reconnect();
    await until(() => kept.length === 1 && seen.length === 1);
    expect([kept, seen]).toEqual([[STATE], [STATE]]);
  });

  test('of a payload without a time it says what the configured session would make of it', async () => {
    const file = join(folder, 'timeless.yaml');
    const source = `  - { kind: mqtt, url: "${broker.url}", client_id: v, topics: [{ reads: json, topic: "a/{unit}", site: millpond, values: { output_power_w: { pointer: "" } } }] }`;
    writeFileSync(file, `sources:\n${source}\n${source.replace('client_id: v, ', '')}\n`);
    const { text } = await listen(['--config', file, '--source', '1', '--count', '1'], () => publish('a/u1', '5'));
    expect(text).toContain('refused: the map names no time, and the broker may have held the message back');
    const clean = await listen(['--config', file, '--source', '2', '--count', '1'], () => publish('a/u1', '5'));
    expect(clean.text).toContain('millpond unit u1 at 2026-03-02T00:00:00.000Z: output_power_w 5 W');
  });

  test('a broker that is not there is said in words, and the exit code is 1', async () => {
    const port = await freePort();
    const gone = await listen(['--config', configFile('gone.yaml', `mqtt://127.0.0.1:${port}`)]);
    expect([gone.code, gone.out]).toEqual([1, []]);
    expect(gone.err[0]).toContain(`mqtt 127.0.0.1:${port} as kilter-valley-0: nothing listens at this address`);
    // The other one is listened to all the same.
    const file = configFile('half.yaml', broker.url, `mqtt://127.0.0.1:${port}`);
    const half = await listen(['--config', file, '--count', '1'], () =>
      publish(STATE, { ts: 1772431200, state: 'ON GRID' }),
    );
    expect(half.code).toBe(1);
    expect(half.text).toContain(`${STATE} from mqtt 127.0.0.1:${broker.port} as kilter-valley-0`);
  });

  test('ends after its time where nothing comes', async () => {
    const { code, text } = await listen(['--config', configFile('time.yaml', broker.url), '--for', '1s']);
    expect(code).toBe(0);
    expect(text).toContain('0 messages');
    expect(text).toContain('kilter/v1/+/+/+: no message');
    expect(text).toContain('--all hears them too');
  });

  test.each([
    [['--config', 'nowhere.yaml'], 'there is no such file'],
    [[], '--config is missing'],
    [['--source', 'x'], '--config is missing'],
    [['--count', '0', '--config', 'k'], '--count is "0"'],
    [['--for', 'ever', '--config', 'k'], '--for is "ever"'],
  ])('refuses %j', async (args, what) => {
    const { code, err } = await listen(args);
    expect([code, err[0]]).toEqual([1, expect.stringContaining(what)]);
  });

  test('a source that is not there is answered with those that are', async () => {
    const { err } = await listen(['--config', configFile('pick.yaml', broker.url), '--source', '1']);
    expect(err[0]).toContain(`give one of 2 (mqtt 127.0.0.1:${broker.port} as kilter-valley-0)`);
  });
});
