import { describe, expect, test } from 'vitest';
import { createJsonReader } from '../../../../ingest/wire/mqtt/json-reader.ts';
import type { JsonEntry } from '../../../../ingest/wire/mqtt/topic-entry.ts';
import { ARRIVED, hear, listener } from './_heard.ts';

const ENTRY: JsonEntry = {
  reads: 'json',
  topic: 'plants/{site}/inverters/{unit}/state',
  site: null,
  source: null,
  time: { pointer: '/ts', format: 'epoch_s' },
  values: [
    { quantity: 'output_power_w', pointer: '/out/kw', factor: 1000, states: null },
    { quantity: 'mode', pointer: '/state', factor: 1, states: { 'ON GRID': 'grid', ISLAND: 'backup', '7': 'fault' } },
  ],
};
const TOPIC = 'plants/millpond/inverters/u1/state';
const TS = Date.UTC(2026, 2, 2, 6) / 1000;
const one = (payload: unknown, more = {}, entry: Partial<JsonEntry> = {}) =>
  hear([{ ...ENTRY, ...entry }], { topic: TOPIC, payload, ...more });

describe('createJsonReader', () => {
  test('pointers, factors and states make a reading of a foreign payload', () => {
    expect(one({ ts: TS, out: { kw: 1.215 }, state: 'ON GRID', door: 'open' })).toMatchObject({
      readings: [
        {
          source: 'millpond/unit/u1',
          t: '2026-03-02T06:00:00.000Z',
          values: { output_power_w: 1215, mode: 'grid' },
        },
      ],
      refused: [],
    });
  });

  test('numbers may stand in quotes, states may be numbers, null and what is missing are absent', () => {
    expect(one({ ts: String(TS), out: { kw: ' 1.5 ' }, state: 7 }).readings[0]?.values).toEqual({
      output_power_w: 1500,
      mode: 'fault',
    });
    expect(one({ ts: TS, out: { kw: null }, state: 'ISLAND' }).readings[0]?.values).toEqual({ mode: 'backup' });
    expect(one({ ts: TS, state: 'ISLAND' }).readings[0]?.values).toEqual({ mode: 'backup' });
  });

  test('a value of a wrong type refuses the whole message', () => {
    expect(one({ ts: TS, out: { kw: true }, state: 'ISLAND' })).toMatchObject({
      readings: [],
      refused: ['/out/kw: output_power_w is true'],
    });
    expect(one({ ts: TS, out: { kw: 'off' } }).refused).toEqual(['/out/kw: output_power_w is "off"']);
    expect(one({ ts: TS, out: { kw: 1e300 } }).refused).toHaveLength(1);
  });

  test('a state in no map is absent, and counted', () => {
    const { reader, hear: listen } = listener([ENTRY]);
    expect(listen({ topic: TOPIC, payload: { ts: TS, state: 'LUNCH' } }).readings[0]?.values).toEqual({});
    expect(reader.entries[0]?.parts()[0]?.trouble).toBe('mode knows no "LUNCH" (1 ×)');
  });

  test('each time format gives its instant', () => {
    const seen = (format: 'epoch_s' | 'epoch_ms' | 'rfc3339', ts: unknown) =>
      one({ ts, state: 'ISLAND' }, {}, { time: { pointer: '/ts', format } }).readings[0]?.t;
    expect(seen('epoch_s', TS + 0.25)).toBe('2026-03-02T06:00:00.250Z');
    expect(seen('epoch_ms', TS * 1000)).toBe('2026-03-02T06:00:00.000Z');
    expect(seen('rfc3339', '2026-03-02T08:00:00+02:00')).toBe('2026-03-02T06:00:00.000Z');
    expect(seen('epoch_s', 'noon')).toBeUndefined();
    expect(seen('epoch_s', 1e300)).toBeUndefined();
  });

  test('without a time that of arrival is taken only where the broker cannot have held the message back', () => {
    const untimed = { time: null };
    expect(one({ state: 'ISLAND' }, { canComeAgain: false }, untimed).readings[0]?.t).toBe(
      new Date(ARRIVED).toISOString(),
    );
    expect(one({ state: 'ISLAND' }, { canComeAgain: false }).readings[0]?.t).toBe(new Date(ARRIVED).toISOString());
    expect(one({ state: 'ISLAND' }, { canComeAgain: true }, untimed).refused[0]).toContain('may have held');
    expect(one({ state: 'ISLAND' }, { canComeAgain: true }).refused[0]).toContain('nothing stands at the time /ts');
  });

  test('a retained message is stored under its own time, and without one refused', () => {
    expect(one({ ts: TS, state: 'ISLAND' }, { isRetained: true }).readings[0]?.t).toBe('2026-03-02T06:00:00.000Z');
    const { readings, refused } = one({ state: 'ISLAND' }, { isRetained: true, canComeAgain: false });
    expect(readings).toEqual([]);
    expect(refused[0]).toContain('retained');
  });

  test('site and source may be fixed, and several entries may read one topic', () => {
    const fixed = (kind: 'unit' | 'pack', id: string, quantity: string): JsonEntry => ({
      ...ENTRY,
      topic: 'cabinet',
      site: 'millpond',
      source: { kind, id },
      time: null,
      values: [{ quantity, pointer: '', factor: 0.1, states: null }],
    });
    const heard = hear([fixed('unit', 'u1', 'load_pct'), fixed('pack', 'p1', 'soc_pct')], {
      topic: 'cabinet',
      payload: 715,
      canComeAgain: false,
    });
    expect(heard.readings.map(({ source, values }) => [source, values])).toEqual([
      ['millpond/unit/u1', { load_pct: 71.5 }],
      ['millpond/pack/p1', { soc_pct: 71.5 }],
    ]);
  });

  test('a payload that holds none of the values is refused: the map is wrong', () => {
    expect(one({ ts: TS, kw: 3 }).refused).toEqual(['the payload holds nothing at /out/kw, /state']);
    expect(hear([ENTRY], { topic: 'plants/Mill/inverters/u1/state', payload: { ts: TS } }).refused).toEqual([
      'site is "Mill"',
    ]);
  });

  test('an entry that no schema let through is a mistake of ours', () => {
    expect(() => createJsonReader({ ...ENTRY, topic: 'a/#/b' })).toThrow('Cannot read topic');
  });
});
