/** Readings from a broker: bursts stored and then acknowledged, against one insert and one acknowledgement each. */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { connect } from 'mqtt';
import { createLiveDoor, type LiveDoor } from '../../ingest/intake/live-door.ts';
import type { MqttConfig } from '../../ingest/sources/mqtt/mqtt-config.ts';
import { createMqttSource } from '../../ingest/sources/mqtt/mqtt-source.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { type Mosquitto, startMosquitto, until } from '../peers/_mosquitto.ts';
import { FIRST_DAY_MS, freshFolder } from './bench-data.ts';
import { type BenchFigure, figure } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';

export interface MqttFleet {
  readonly url: string;
  readonly sites: number;
  readonly sources: number;
  readonly everyS: number;
  readonly seconds: number;
  /** At its own pace under the time it is; else as fast as it goes, under times from `from` on. */
  readonly isPaced: boolean;
  readonly from: number;
}

const FLEET = { sites: 500, sources: 7, everyS: 10 } as const;
const FULL_MESSAGES = 21_000;
/** Enough for a rate: each waits for its own sync of the disk. */
const SINGLE_MESSAGES = 1050;
const LIVE_S = 30;

export async function mqttPart({ say }: BenchRun): Promise<BenchFigure[]> {
  const broker = await startMosquitto();
  try {
    say('bursts from a broker');
    const bursts = await burstRate(broker, FULL_MESSAGES);
    const single = await singleRate(broker, SINGLE_MESSAGES);
    say(`${FLEET.sites} sites × ${FLEET.sources} sources at ${FLEET.everyS} s, live, for ${LIVE_S} s`);
    const live = await liveFleet(broker);
    const name = `${FLEET.sites} sites × ${FLEET.sources} sources at ${FLEET.everyS} s`;
    return [
      figure('mqtt', 'bursts stored, then acknowledged', bursts, 'messages/s', {
        against: { name: 'one insert into a narrow table, one acknowledgement each', value: single },
        asked: { of: 'ratio', is: 'least', limit: 5 },
        note: 'mosquitto, QoS 1, about 600 bytes, synchronous = FULL on both sides',
      }),
      figure('mqtt', `${name}: one core`, live.corePct, '%', {
        asked: { of: 'value', is: 'most', limit: 25 },
        note: `${live.messages} messages in ${live.seconds.toFixed(0)} s, ${live.transactions} batches`,
      }),
      figure('mqtt', `${name}: longest from reading to stored`, live.longestMs / 1000, 's', {
        asked: { of: 'value', is: 'most', limit: 2 },
        note: `median ${live.medianMs} ms`,
      }),
    ];
  } finally {
    await broker.end();
  }
}

const configFor = (url: string, clientId: string): MqttConfig => ({
  kind: 'mqtt',
  name: `mqtt ${clientId}`,
  url,
  protocol: 5,
  clientId,
  username: null,
  password: null,
  passwordFile: null,
  caFile: null,
  certFile: null,
  keyFile: null,
  wills: [],
  topics: [{ reads: 'kilter' }],
});

async function publish(broker: Mosquitto, messages: number, more: Partial<MqttFleet> = {}): Promise<void> {
  const seconds = (messages * FLEET.everyS) / (FLEET.sites * FLEET.sources);
  const fleet: MqttFleet = { url: broker.url, ...FLEET, seconds, isPaced: false, from: FIRST_DAY_MS, ...more };
  const child = spawn(process.execPath, [join(import.meta.dirname, 'mqtt-child.js'), JSON.stringify(fleet)], {
    stdio: 'inherit',
  });
  await once(child, 'exit');
}

/** Makes the session, so that what is published next waits for it. */
async function makeSession(broker: Mosquitto, clientId: string): Promise<void> {
  const client = await broker.client({
    clientId,
    clean: false,
    protocolVersion: 5,
    properties: { sessionExpiryInterval: 3600 },
  });
  await client.subscribeAsync('kilter/v1/+/+/+', { qos: 1 });
  await client.endAsync();
}

/** @returns messages a second, from the connection to the last that is on disk */
async function burstRate(broker: Mosquitto, messages: number): Promise<number> {
  await makeSession(broker, 'bursts');
  await publish(broker, messages);
  const db = openStore(await freshFolder('mqtt-bursts'));
  const door = createLiveDoor(createReadingStore(db));
  const source = createMqttSource(configFor(broker.url, 'bursts'), door, {
    nowMs: () => Date.now(),
    say: () => undefined,
  });
  const started = performance.now();
  source.start();
  await until(() => source.status().readings >= messages);
  const seconds = (performance.now() - started) / 1000;
  await source.stop();
  db.close();
  return messages / seconds;
}

/** The way a library offers: each message inserted and acknowledged before the next. */
async function singleRate(broker: Mosquitto, messages: number): Promise<number> {
  await makeSession(broker, 'single');
  await publish(broker, messages);
  const db = new Database(join(await freshFolder('mqtt-single'), 'narrow.sqlite'));
  db.pragma('journal_mode = WAL');
  db.pragma('synchronous = FULL');
  db.exec('CREATE TABLE readings (topic TEXT, t INTEGER, payload TEXT, PRIMARY KEY (topic, t)) WITHOUT ROWID');
  const insert = db.prepare('INSERT OR IGNORE INTO readings VALUES (?, ?, ?)');
  let stored = 0;
  const client = connect(broker.url, {
    clientId: 'single',
    clean: false,
    protocolVersion: 5,
    properties: { sessionExpiryInterval: 3600 },
    manualConnect: true,
  });
  client.handleMessage = ({ topic, payload }, done) => {
    const text = payload.toString();
    insert.run(topic, (JSON.parse(text) as { readonly t: number }).t, text);
    stored += 1;
    done();
  };
  const started = performance.now();
  client.connect();
  await until(() => stored >= messages);
  const seconds = (performance.now() - started) / 1000;
  await client.endAsync();
  db.close();
  return messages / seconds;
}

interface LiveFigures {
  readonly corePct: number;
  readonly longestMs: number;
  readonly medianMs: number;
  readonly messages: number;
  readonly transactions: number;
  readonly seconds: number;
}

/** The fleet publishes from a process of its own; what is counted is all that this process does meanwhile. */
async function liveFleet(broker: Mosquitto): Promise<LiveFigures> {
  const messages = (FLEET.sites * FLEET.sources * LIVE_S) / FLEET.everyS;
  const db = openStore(await freshFolder('mqtt-live'));
  const inner = createLiveDoor(createReadingStore(db));
  const lags: number[] = [];
  let transactions = 0;
  const door: LiveDoor = {
    async store(batch) {
      const counts = await inner.store(batch);
      transactions += 1;
      const { rows, rowsLength } = batch;
      const now = Date.now();
      for (let at = 0; at < rowsLength; at += 3 + 2 * rows[at + 2]!) lags.push(now - rows[at + 1]!);
      return counts;
    },
  };
  const source = createMqttSource(configFor(broker.url, 'live'), door, {
    nowMs: () => Date.now(),
    say: () => undefined,
  });
  source.start();
  await until(() => source.status().parts[0]?.isAnswering === true);
  const before = process.cpuUsage();
  const started = performance.now();
  await publish(broker, messages, { isPaced: true });
  while (lags.length < messages) await new Promise((resolve) => setTimeout(resolve, 50));
  const seconds = (performance.now() - started) / 1000;
  const { user, system } = process.cpuUsage(before);
  await source.stop();
  db.close();
  lags.sort((a, b) => a - b);
  const corePct = ((user + system) / 1e6 / seconds) * 100;
  return { corePct, longestMs: lags.at(-1)!, medianMs: lags[lags.length >> 1]!, messages, transactions, seconds };
}
