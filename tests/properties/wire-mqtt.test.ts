import { describe, expect, test } from 'vitest';
import { BatchBuilder } from '../../ingest/wire/batch-builder.ts';
import { createMessageReader } from '../../ingest/wire/mqtt/message-reader.ts';
import type { TopicEntry } from '../../ingest/wire/mqtt/topic-entry.ts';
import { describeBatch } from '../ingest/wire/describe-batch.ts';
import { bytesOf, type Said } from '../ingest/wire/mqtt/_heard.ts';
import { AT, ENTRY, ForeignNode, UNIT_BIRTH } from '../ingest/wire/sparkplug/_node.ts';
import { mutated } from './_mutated.ts';

const COUNT = process.env.KILTER_LONG === '1' ? 100_000 : 6000;
const TOPICS: readonly TopicEntry[] = [
  { reads: 'kilter' },
  ENTRY,
  {
    reads: 'json',
    topic: 'plants/{site}/{unit}',
    site: null,
    source: null,
    time: { pointer: '/ts', format: 'rfc3339' },
    values: [
      { quantity: 'output_power_w', pointer: '/out/kw', factor: 1000, states: null },
      { quantity: 'mode', pointer: '/state', factor: 1, states: { 'ON GRID': 'grid' } },
    ],
  },
];

interface Tally {
  readings: number;
  refused: number;
  longest: number;
}

/** Reads one message; what it takes must be a batch that the store can hold. */
function read(
  reader: ReturnType<typeof createMessageReader>,
  { topic, payload }: Said,
  tally: Tally,
  isChecked: boolean,
): void {
  const builder = new BatchBuilder();
  const message = { topic, payload: bytesOf(payload), isRetained: false, canComeAgain: true, arrivedAt: AT };
  reader.read(message, {
    take(meaning) {
      tally.readings += 1;
      builder.take(meaning);
    },
    refuse({ what, remedy }) {
      tally.refused += 1;
      tally.longest = Math.max(tally.longest, what.length + remedy.length);
    },
    offset: () => undefined,
  });
  if (isChecked) describeBatch(builder.finish());
}

const NATIVE: readonly Said[] = [
  {
    topic: 'kilter/v1/millpond/unit/u1',
    payload: { t: '2026-03-02T06:00:03.217Z', grid_voltage_v: 229.8, mode: 'grid', door: 'open' },
  },
  {
    topic: 'kilter/v1/millpond/pack/p1',
    payload: [
      { t: AT, soc_pct: 71 },
      { t: AT + 1, soc_pct: 72, replaces: true, revision: 2 },
    ],
  },
  {
    topic: 'kilter/v1/millpond/unit/u1',
    payload: { t: AT, settings: { battery_shared: true }, alarm: 'fan', state: 'raised' },
  },
  { topic: 'kilter/v1/millpond/courier/c1', payload: { t: AT, offset_ms: 12 } },
  { topic: 'plants/millpond/u1', payload: { ts: '2026-03-02T06:00:03Z', out: { kw: 1.2 }, state: 'ON GRID' } },
];

function sparkplug(): readonly Said[] {
  const node = new ForeignNode();
  return [
    node.birth(),
    node.say('DBIRTH', 'inv-a', [
      ...UNIT_BIRTH,
      { name: 'Door', alias: 9, type: 'String', value: 'open', timestamp: AT },
    ]),
    node.say('DDATA', 'inv-a', [
      { alias: 1, type: 'Int32', value: -5, timestamp: AT + 1 },
      { alias: 2, type: 'UInt16', value: 2300, timestamp: AT + 2 },
      { name: 'Big', type: 'Int64', value: -(2 ** 40), timestamp: AT + 2 },
      { name: 'Exact', type: 'Double', value: 1.25, timestamp: AT + 2 },
      { name: 'T', type: 'DataSet', value: { numOfColumns: 1, columns: ['a'], types: ['Int32'], rows: [[1]] } },
    ]),
    node.say('DDEATH', 'bat-1'),
    node.death(),
  ];
}

describe.each([
  ['MQTT payloads', () => NATIVE],
  ['Sparkplug payloads', sparkplug],
])('%s that were mutilated', (_name, make) => {
  test(`never make a reader throw or hang, and refusals are short: ${COUNT} of them`, () => {
    const reader = createMessageReader(TOPICS);
    const good = make();
    const tally: Tally = { readings: 0, refused: 0, longest: 0 };
    for (let seed = 1; seed <= COUNT; seed += 1) {
      // In order now and then, so that there are births to be confused about.
      if (seed % 50 === 1) for (const said of good) read(reader, said, tally, false);
      const said = good[seed % good.length]!;
      read(reader, { ...said, payload: mutated(bytesOf(said.payload), seed) }, tally, seed % 20 === 0);
    }
    expect(tally.refused).toBeGreaterThan(COUNT / 10);
    expect(tally.readings).toBeGreaterThan(COUNT / 50);
    expect(tally.longest).toBeLessThan(1000);
    for (const entry of reader.entries)
      for (const { trouble } of entry.parts()) expect(trouble?.length ?? 0).toBeLessThan(1000);
    // After all of it good messages are read as before.
    const before = tally.readings;
    for (const said of make()) read(reader, said, tally, true);
    expect(tally.readings - before).toBeGreaterThan(2);
  });

  test('leave nothing behind in memory', () => {
    const reader = createMessageReader(TOPICS);
    const good = make();
    const tally: Tally = { readings: 0, refused: 0, longest: 0 };
    const round = (from: number): number => {
      for (let seed = from; seed < from + 1500; seed += 1) {
        const said = good[seed % good.length]!;
        read(reader, { ...said, payload: mutated(bytesOf(said.payload), seed) }, tally, false);
      }
      return JSON.stringify(reader.entries.map((entry) => entry.parts())).length;
    };
    round(1);
    expect(round(2000)).toBeLessThan(4000);
    expect(tally.refused).toBeGreaterThan(100);
  });
});
