import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { openStoreToRead } from '../../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../../ingest/store/reading-store.ts';
import { querySql } from '../../../../ingest/store/sql-view.ts';
import { startMosquitto, until } from '../../../peers/_mosquitto.ts';
import { configFor, line } from './_rig.ts';

const CONSUMER = fileURLToPath(new URL('./_consumer.mjs', import.meta.url));
const KILLS = Number(process.env.KILTER_KILLS ?? 2);
const A_ROUND = 400;

async function countIn(folder: string): Promise<unknown> {
  const db = openStoreToRead(folder);
  try {
    return await querySql(
      createReadingStore(db),
      [],
      'select count(*), count(distinct t), sum(output_power_w) from unit_readings',
      async (answer) => [...answer.rows].map((row) => [...row])[0],
    );
  } finally {
    db.close();
  }
}

interface Consumer {
  readonly child: ChildProcess;
  /** Readings that it has said to be stored, repeated ones too. */
  readonly stored: () => number;
}

function startConsumer(config: string, folder: string): Consumer {
  const child = spawn(process.execPath, ['--import', 'tsx', CONSUMER, config, folder], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let text = '';
  child.stdout.setEncoding('utf8').on('data', (piece: string) => {
    text = (text + piece).slice(-2000);
  });
  return { child, stored: () => Number(text.match(/stored (\d+)\n(?![\s\S]*stored \d+\n)/)?.[1] ?? 0) };
}

test(
  `a consumer killed ${KILLS} times under traffic has stored every published reading exactly once`,
  async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-killed-'));
    // Few at a time, so that a kill finds bursts half way.
    const broker = await startMosquitto({ lines: ['max_inflight_messages 50'] });
    const config = JSON.stringify(configFor(broker.url));
    const client = await broker.client();
    let consumer = startConsumer(config, folder);
    let n = 0;
    await untilSessionStands(client, consumer);
    for (let kill = 0; kill < KILLS; kill += 1) {
      const sent = Array.from({ length: A_ROUND }, () => {
        n += 1;
        return client.publishAsync('kilter/v1/millpond/unit/u1', line(n), { qos: 1 });
      });
      const from = consumer.stored();
      await until(() => consumer.stored() > from + (kill % 5) * 60);
      const gone = once(consumer.child, 'exit');
      consumer.child.kill('SIGKILL');
      await gone;
      await Promise.all(sent);
      consumer = startConsumer(config, folder);
    }
    const all = [n + 1, n + 1, (n * (n + 1)) / 2];
    let last: unknown = null;
    for (;;) {
      last = await countIn(folder);
      if (JSON.stringify(last) === JSON.stringify(all)) break;
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    expect(last).toEqual(all);
    const gone = once(consumer.child, 'exit');
    consumer.child.kill('SIGKILL');
    await gone;
    await broker.end();
    rmSync(folder, { recursive: true, force: true });
  },
  60_000 + KILLS * 6000,
);

/** Publishes one reading, line 0, again and again until it is stored: then the subscription stands. */
async function untilSessionStands(
  client: { publish(topic: string, payload: string, options: { qos: 1 }): unknown },
  consumer: Consumer,
): Promise<void> {
  while (consumer.stored() === 0) {
    client.publish('kilter/v1/millpond/unit/u1', line(0), { qos: 1 });
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}
