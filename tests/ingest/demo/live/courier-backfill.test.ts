/** The demo's courier loses its link while its site is without grid, and brings everything afterwards. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import { createLiveDoor, type LiveDoor } from '../../../../ingest/intake/live-door.ts';
import { createClockWatch } from '../../../../ingest/sources/courier/clock-watch.ts';
import { DiskQueue } from '../../../../ingest/sources/courier/disk-queue.ts';
import { startForwarding } from '../../../../ingest/sources/courier/forward-loop.ts';
import { forwardByMqtt } from '../../../../ingest/sources/courier/forward-mqtt.ts';
import { createQueueDoor } from '../../../../ingest/sources/courier/queue-door.ts';
import { makeSource, type RunConfig } from '../../../../ingest/sources/make-source.ts';
import { createMqttPublisher } from '../../../../ingest/sources/mqtt/mqtt-publisher.ts';
import { openStore } from '../../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../../ingest/store/reading-store.ts';
import { encodeLines } from '../../../../ingest/wire/encode-lines.ts';
import { readConfig } from '../../../../server/process/read-config.ts';
import { isRunBy, readSources } from '../../../../server/process/source-kinds.ts';
import { openTestFleet, until } from './_fleet.ts';

const SITE = 'mill-lane-shop';
const toStop: (() => Promise<void> | void)[] = [];
afterEach(async () => {
  for (const stop of toStop.splice(0).reverse()) await stop();
});

const house = (door: LiveDoor, folder: string) => ({
  door,
  nowMs: Date.now,
  say: () => undefined,
  followHouse: () => {
    throw new Error('no folder is followed here');
  },
  hearOffset: () => undefined,
  memoryFolder: folder,
});

const run = (config: RunConfig, door: LiveDoor, folder: string): void => {
  const source = makeSource(config, house(door, folder));
  source.start();
  toStop.push(() => source.stop());
};

describe("the demo's courier", () => {
  test('what it reads while it has no link is stored once, all of it, when the link is back', {
    timeout: 120_000,
  }, async () => {
    const own = await openTestFleet([3]);
    const folder = mkdtempSync(join(tmpdir(), 'kilter-backfill-'));
    const store = createReadingStore(openStore(folder));
    toStop.push(own.close, () => {
      store.db.close();
      rmSync(folder, { recursive: true, force: true });
    });
    const { fleet } = own;
    const timer = setInterval(() => fleet.advance(), 50);
    toStop.push(() => clearInterval(timer));

    // The board's side: the broker into a store, counted by what was new there.
    const stored = new Set<string>();
    const into = createLiveDoor(store);
    const { sources } = readSources(fleet.sources(), { folder: own.folder, env: {} });
    const mqtt = sources.filter(isRunBy.worker).find(({ kind }) => kind === 'mqtt')!;
    let counted = 0;
    run(
      mqtt,
      {
        async store(batch) {
          const counts = await into.store(batch);
          counted += counts.stored;
          for (const { text } of encodeLines(batch)) stored.add(text);
          return counts;
        },
      },
      folder,
    );

    // The site's side: the courier's own parts, by the file that the demo writes for it.
    const config = readConfig(fleet.courier()!, {}, 'courier');
    const forward = config.courier!.forward;
    const queue = new DiskQueue(config.courier!.queue.path, { maxBytes: 1e8, say: () => undefined, nowMs: Date.now });
    toStop.push(() => queue.close());
    const read = new Set<string>();
    const intoQueue = createQueueDoor(queue);
    const modbus = config.sources.filter(isRunBy.worker).find((one) => one.kind === 'modbus')!;
    run(
      { ...modbus, everyMs: 250 },
      {
        store(batch) {
          for (const { text } of encodeLines(batch)) read.add(text);
          return intoQueue.store(batch);
        },
      },
      folder,
    );
    const { broker } = forward as Extract<typeof forward, { kind: 'mqtt' }>;
    const clock = createClockWatch({ nowMs: Date.now, elapsedMs: () => performance.now(), say: () => undefined });
    const publisher = createMqttPublisher(broker);
    const forwarder = forwardByMqtt({ publisher, broker: broker.name, clock, courier: 'demo', nowMs: Date.now });
    const loop = startForwarding(queue, forwarder, {
      say: () => undefined,
      random: Math.random,
      elapsedMs: () => performance.now(),
    });
    toStop.push(() => loop.stop());

    await until(() => stored.size > 8, 'the first readings');
    expect(fleet.start(SITE, 'grid_loss', 60)).not.toBeNull();
    await until(() => loop.counts().trouble !== null, 'the link is lost');
    const [readThen, storedThen] = [read.size, stored.size];
    await until(() => read.size > readThen + 20, 'it goes on reading');
    expect(queue.counts().waiting).toBeGreaterThan(0);
    expect(stored.size).toBeLessThanOrEqual(storedThen + 8);

    fleet.clear(SITE);
    await until(() => stored.size > readThen + 20, 'the past comes');
    // The devices are left alone, so that both sides can be counted.
    await toStop.splice(toStop.length - 2, 1)[0]!();
    await until(() => queue.counts().waiting === 0 && stored.size >= read.size, 'everything', 60_000);
    expect([...read].filter((line) => !stored.has(line))).toEqual([]);
    expect([...stored].filter((line) => !read.has(line))).toEqual([]);
    // What was delivered twice is one reading all the same.
    expect(counted).toBe(read.size);
  });
});
