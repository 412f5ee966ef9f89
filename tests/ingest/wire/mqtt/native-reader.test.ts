import { describe, expect, test } from 'vitest';
import { createNativeReader } from '../../../../ingest/wire/mqtt/native-reader.ts';
import { ARRIVED, hear } from './_heard.ts';

const KILTER = [{ reads: 'kilter' }] as const;
const T = '2026-03-02T06:00:00Z';
const U1 = 'kilter/v1/millpond/unit/u1';

describe('createNativeReader', () => {
  test('one filter holds every kind of source', () => {
    expect(createNativeReader().filters).toEqual(['kilter/v1/+/+/+']);
  });

  test('the topic names the source, the payload is one line', () => {
    const topics = ['unit/u1', 'pack/p1', 'bank/bank', 'meter/m1'].map((end) => `kilter/v1/millpond/${end}`);
    const { readings, refused } = hear(KILTER, ...topics.map((topic) => ({ topic, payload: { t: T, door: 'open' } })));
    expect(refused).toEqual([]);
    expect(readings).toEqual(
      ['unit/u1', 'pack/p1', 'bank/bank', 'meter/m1'].map((end) => ({
        source: `millpond/${end}`,
        t: '2026-03-02T06:00:00.000Z',
        values: {},
        extras: { door: 'open' },
      })),
    );
  });

  test('of a list each good element is taken and each bad one refused by itself', () => {
    const payload = [
      { t: T, output_power_w: 1215 },
      { output_power_w: 1 },
      'x',
      { t: T, output_power_w: '9' },
      { t: '2026-03-02T06:00:10Z', output_power_w: -0.4, mode: 'grid' },
    ];
    const { readings, refused } = hear(KILTER, { topic: U1, payload });
    expect(readings.map(({ values }) => values)).toEqual([
      { output_power_w: 1215 },
      { output_power_w: 0, mode: 'grid' },
    ]);
    expect(refused).toEqual([
      'element 2: the line has no "t"',
      'element 3: the line is "x"',
      'element 4: output_power_w is "9"',
    ]);
  });

  test('t is required, even where the time of arrival could be taken', () => {
    const { readings, refused } = hear(KILTER, { topic: U1, payload: { output_power_w: 1 }, canComeAgain: false });
    expect(readings).toEqual([]);
    expect(refused).toEqual(['the line has no "t"']);
  });

  test('settings and alarms come by the same topics', () => {
    const heard = hear(
      KILTER,
      { topic: U1, payload: { t: T, settings: { battery_shared: true } } },
      { topic: U1, payload: { t: T, alarm: 'fan', state: 'raised' } },
    );
    expect(heard.settings).toMatchObject([{ source: 'millpond/unit/u1', values: { battery_shared: true } }]);
    expect(heard.alarms).toMatchObject([{ source: 'millpond/unit/u1', alarm: 'fan', state: 'raised' }]);
  });

  test('a retained message is stored under its own time, never under that of its arrival', () => {
    const { readings } = hear(KILTER, { topic: U1, payload: { t: T, output_power_w: 5 }, isRetained: true });
    expect(readings[0]?.t).toBe('2026-03-02T06:00:00.000Z');
    expect(Date.parse(readings[0]!.t)).not.toBe(ARRIVED);
  });

  test('the clock of a courier is handed on, and is no reading', () => {
    const topic = 'kilter/v1/millpond/courier/cabinet';
    const heard = hear(KILTER, { topic, payload: { t: T, offset_ms: -3200 } }, { topic, payload: { t: T } });
    expect(heard.offsets).toEqual([
      { site: 'millpond', name: 'cabinet', t: Date.parse(T), offsetMs: -3200, isMeasured: true },
    ]);
    expect(heard.readings).toEqual([]);
    expect(heard.refused).toEqual(['offset_ms is undefined']);
  });

  test('what is no reading is refused by name, and an empty payload says nothing', () => {
    const { refused, readings } = hear(
      KILTER,
      { topic: U1, payload: '{"t":' },
      { topic: U1, payload: Uint8Array.of(0xff, 0xfe) },
      { topic: U1, payload: '' },
      { topic: 'kilter/v1/Millpond/unit/u1', payload: { t: T } },
      { topic: 'kilter/v1/millpond/fridge/u1', payload: { t: T } },
      { topic: 'kilter/v1/millpond/unit/site', payload: { t: T } },
      { topic: U1, payload: { t: T, pack: 'p1' } },
      { topic: 'elsewhere', payload: { t: T } },
      { topic: U1, payload: new Uint8Array(1024 * 1024 + 1) },
    );
    expect(readings).toEqual([]);
    expect(refused).toEqual([
      '"{\\"t\\":" is no JSON',
      'the payload is no text in UTF-8',
      'site is "Millpond"',
      '"fridge" is no kind of source',
      'unit is "site"',
      'pack is "p1", but this line comes from millpond, unit u1',
      'the topic is in no map',
      'the payload is 1.0 MiB',
    ]);
  });
});
