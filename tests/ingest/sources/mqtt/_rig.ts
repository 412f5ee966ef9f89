/** A source between a broker and a store, and doors that misbehave. */
import type { LiveDoor } from '../../../../ingest/intake/live-door.ts';
import type { LiveSource } from '../../../../ingest/sources/live-source.ts';
import type { MqttConfig } from '../../../../ingest/sources/mqtt/mqtt-config.ts';
import { createMqttSource, type MqttHouse } from '../../../../ingest/sources/mqtt/mqtt-source.ts';
import type { ReadingBatch } from '../../../../ingest/vocabulary/reading.ts';

export const configFor = (url: string, more: Partial<MqttConfig> = {}): MqttConfig => ({
  kind: 'mqtt',
  name: 'mqtt under test',
  url,
  protocol: 5,
  clientId: 'kilter-test',
  username: null,
  password: null,
  passwordFile: null,
  caFile: null,
  certFile: null,
  keyFile: null,
  wills: [],
  topics: [{ reads: 'kilter' }],
  ...more,
});

/** Remembers which keys it stored, and how often each; may be told to fail or to wait. */
export interface TestDoor extends LiveDoor {
  readonly keys: Map<string, number>;
  readonly batches: number[];
  /** How often it was asked. */
  asked: number;
  failing: Error | null;
  /** Resolves before a batch is stored. */
  hold: Promise<void> | null;
}

export function testDoor(): TestDoor {
  const door: TestDoor = {
    keys: new Map(),
    batches: [],
    asked: 0,
    failing: null,
    hold: null,
    async store(batch: ReadingBatch) {
      door.asked += 1;
      if (door.hold !== null) await door.hold;
      if (door.failing !== null) throw door.failing;
      let stored = 0;
      const { rows, rowsLength, sources } = batch;
      for (let at = 0; at < rowsLength; at += 3 + 2 * rows[at + 2]!) {
        const { site, kind, id } = sources[rows[at]!]!;
        const key = `${site}/${kind}/${id} ${rows[at + 1]!}`;
        const times = door.keys.get(key) ?? 0;
        door.keys.set(key, times + 1);
        if (times === 0) stored += 1;
      }
      door.batches.push(batch.readings);
      return { stored, alreadyThere: batch.readings - stored };
    },
  };
  return door;
}

export interface Running {
  readonly source: LiveSource;
  readonly said: string[];
  readonly offsets: unknown[];
}

const running: LiveSource[] = [];

export function run(config: MqttConfig, door: LiveDoor, more: Partial<MqttHouse> = {}): Running {
  const said: string[] = [];
  const offsets: unknown[] = [];
  const source = createMqttSource(config, door, {
    nowMs: () => Date.now(),
    say: (line) => said.push(line),
    hearOffset: (offset) => offsets.push(offset),
    ...more,
  });
  running.push(source);
  source.start();
  return { source, said, offsets };
}

export async function stopAll(): Promise<void> {
  await Promise.all(running.splice(0).map((source) => source.stop()));
}

export const line = (n: number): string => JSON.stringify({ t: Date.UTC(2026, 2, 2) + n * 1000, output_power_w: n });
