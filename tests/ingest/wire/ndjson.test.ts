import { describe, expect, test } from 'vitest';
import { createNdjsonDecoder } from '../../../ingest/wire/ndjson.ts';
import { bytesOf, type DescribedBatch, describeBatch } from './describe-batch.ts';

const HEAD = '"t":"2026-03-02T06:00:00Z","site":"millpond","unit":"u1"';
const T = '2026-03-02T06:00:00.000Z';

function decode(text: string, firstLine = 1): DescribedBatch {
  return describeBatch(createNdjsonDecoder().decode(bytesOf(text), firstLine));
}

/** The one refusal of one line, and that the line was counted. */
function refusalOf(line: string): { what: string; remedy: string } {
  const { refused, readings, settings, alarms, lines } = decode(`${line}\n`);
  expect([refused.length, lines, readings.length, settings.length, alarms.length]).toEqual([1, 1, 0, 0, 0]);
  return refused[0]!;
}

describe('createNdjsonDecoder', () => {
  test('takes the example lines of the contract', () => {
    const { readings, settings, refused, lines } = decode(
      [
        '{"t":"2026-03-02T06:00:00Z","site":"millpond","unit":"u1","grid_voltage_v":229.8,"output_power_w":1215,"mode":"grid"}',
        '{"t":"2026-03-02T06:00:03Z","site":"millpond","pack":"p1","pack_voltage_v":53.24,"pack_current_a":-4.2,"soc_pct":71}',
        '{"t":"2026-03-02T06:00:00Z","site":"millpond","unit":"u1","settings":{"battery_type":"lithium","battery_shared":true}}',
      ].join('\n'),
    );
    expect(readings).toEqual([
      { source: 'millpond/unit/u1', t: T, values: { grid_voltage_v: 229.8, output_power_w: 1215, mode: 'grid' } },
      {
        source: 'millpond/pack/p1',
        t: '2026-03-02T06:00:03.000Z',
        values: { pack_voltage_v: 53.24, pack_current_a: -4.2, soc_pct: 71 },
      },
    ]);
    expect(settings).toEqual([
      {
        source: 'millpond/unit/u1',
        t: T,
        values: { battery_type: 'lithium', battery_shared: true },
        replaces: false,
        revision: 0,
        reading: null,
      },
    ]);
    expect([refused, lines]).toEqual([[], 3]);
  });

  test('takes bank and meter lines', () => {
    const { readings } = decode(
      '{"t":1772431200000,"site":"millpond","bank":"bank","bank_soc_pct":70.5}\n{"t":1772431200000,"site":"millpond","meter":"m1","meter_power_w":-12}\n',
    );
    expect(readings).toEqual([
      { source: 'millpond/bank/bank', t: T, values: { bank_soc_pct: 70.5 } },
      { source: 'millpond/meter/m1', t: T, values: { meter_power_w: -12 } },
    ]);
  });

  test('reads a number of seconds as the milliseconds it says it is', () => {
    expect(decode('{"t":1772431200,"site":"a","unit":"u1"}').readings[0]?.t).toBe('1970-01-21T12:20:31.200Z');
  });

  test('null is absent, and a line without values is a reading', () => {
    expect(decode(`{${HEAD},"output_power_w":null,"mode":null,"remark":null}`).readings).toEqual([
      { source: 'millpond/unit/u1', t: T, values: {} },
    ]);
  });

  test('a null source key names no source', () => {
    expect(decode('{"t":0,"site":"a","unit":null,"pack":"p1"}').readings[0]?.source).toBe('a/pack/p1');
  });

  test('keeps every key that is no quantity of this kind of source, with any JSON value', () => {
    const { readings } = decode(
      `{${HEAD},"soc_pct":71,"door":"open","n":-0,"deep":{"a":[1,null]},"__proto__":{"x":1},"state":"ok"}`,
    );
    const extras = readings[0]?.extras as Record<string, unknown>;
    expect(Object.entries(extras)).toEqual([
      ['soc_pct', 71],
      ['door', 'open'],
      ['n', 0],
      ['deep', { a: [1, null] }],
      ['__proto__', { x: 1 }],
      ['state', 'ok'],
    ]);
    expect(readings[0]?.values).toEqual({});
  });

  test('plain extras come by the fast way too', () => {
    const { readings } = decode(`{${HEAD},"door":"open","n":-0.0,"fan":true,"lid":false,"rpm":12.5,"none":null}\n`);
    expect(readings[0]?.extras).toEqual({ door: 'open', n: 0, fan: true, lid: false, rpm: 12.5 });
  });

  test('of a key that comes twice the last counts', () => {
    expect(
      decode(
        `{${HEAD},"output_power_w":1,"output_power_w":2}\n{${HEAD},"output_power_w":1,"output_power_w":null}\n`,
      ).readings.map(({ values }) => values),
    ).toEqual([{ output_power_w: 2 }, {}]);
  });

  test('minus zero is zero', () => {
    expect(decode(`{${HEAD},"output_power_w":-0,"dc_current_a":-0.04}\n`).readings[0]?.values).toEqual({
      output_power_w: 0,
      dc_current_a: 0,
    });
  });

  test('rounds to the resolution as the vocabulary does', () => {
    expect(
      decode(`{${HEAD},"grid_voltage_v":229.85,"grid_frequency_hz":49.999,"output_power_w":-0.5,"load_pct":7}\n`)
        .readings[0]?.values,
    ).toEqual({
      grid_voltage_v: 229.9,
      grid_frequency_hz: 50,
      output_power_w: 0,
      load_pct: 7,
    });
  });

  test('an alarm adds no reading, unless values stand beside it', () => {
    const { readings, alarms } = decode(
      `{${HEAD},"alarm":"over temperature","state":"raised"}\n{${HEAD},"alarm":"over temperature","state":"cleared","output_power_w":5}\n`,
    );
    expect(alarms).toEqual([
      { source: 'millpond/unit/u1', t: T, alarm: 'over temperature', state: 'raised', reading: null },
      { source: 'millpond/unit/u1', t: T, alarm: 'over temperature', state: 'cleared', reading: 0 },
    ]);
    expect(readings).toEqual([{ source: 'millpond/unit/u1', t: T, values: { output_power_w: 5 } }]);
  });

  test('settings that say nothing leave a reading, so that the line is kept', () => {
    const { readings, settings } = decode(`{${HEAD},"settings":{}}\n{${HEAD},"settings":{"phase":null}}\n`);
    expect([readings.length, settings.length]).toEqual([2, 0]);
  });

  test('settings and an alarm on one line hang on one reading, so that the line is counted once', () => {
    const { readings, settings, alarms, lines } = decode(
      `{${HEAD},"settings":{"phase":"L1"},"alarm":"hot","state":"raised"}\n`,
    );
    expect([lines, readings.length]).toEqual([1, 1]);
    expect([settings, alarms]).toMatchObject([[{ reading: 0 }], [{ reading: 0 }]]);
  });

  test('settings of a pack are kept as a key outside the vocabulary, and a meter may raise an alarm', () => {
    const { readings, settings, alarms, refused } = decode(
      '{"t":0,"site":"a","pack":"p1","settings":{"firmware":"1.2"}}\n{"t":0,"site":"a","meter":"m1","alarm":"hot","state":"raised"}\n',
    );
    expect(readings.map(({ extras }) => extras)).toEqual([{ settings: { firmware: '1.2' } }]);
    expect([settings, refused]).toEqual([[], []]);
    expect(alarms).toMatchObject([{ source: 'a/meter/m1', alarm: 'hot', state: 'raised' }]);
  });

  test('a null setting is absent, and replaces and revision reach settings and readings', () => {
    const { readings, settings } = decode(
      `{${HEAD},"settings":{"phase":null,"low_soc_cutoff_pct":20},"replaces":true,"revision":3}\n{${HEAD},"output_power_w":5,"replaces":true}\n`,
    );
    expect(settings).toEqual([
      {
        source: 'millpond/unit/u1',
        t: T,
        values: { low_soc_cutoff_pct: 20 },
        replaces: true,
        revision: 3,
        reading: null,
      },
    ]);
    expect(readings[0]?.replaces).toBe(0);
  });

  test('blank lines, carriage returns, a missing last newline and a byte order mark are no mistakes', () => {
    const { readings, lines, refused } = decode(`\ufeff{${HEAD}}\r\n\n  \t\r\n{${HEAD}}`);
    expect([readings.length, lines, refused]).toEqual([2, 2, []]);
  });

  test('names the line of the file, counted from the line given', () => {
    expect(decode(`{${HEAD}}\n\nnonsense\n{${HEAD}}\n{`, 41).refused.map(({ line }) => line)).toEqual([43, 45]);
  });

  test.each([
    ['t missing', '{"site":"a","unit":"u1"}', 'the line has no "t"'],
    ['t null', '{"t":null,"site":"a","unit":"u1"}', 'the line has no "t"'],
    ['site missing', '{"t":0,"unit":"u1"}', 'the line has no "site"'],
    ['source missing', '{"t":0,"site":"a"}', 'the line names no source'],
    ['two sources', '{"t":0,"site":"a","unit":"u1","pack":"p1"}', 'the line names both unit and pack'],
    ['a site with capitals', '{"t":0,"site":"Mill","unit":"u1"}', 'site is "Mill"'],
    ['an empty id', '{"t":0,"site":"a","unit":""}', 'unit is ""'],
    ['a number as id', '{"t":0,"site":"a","unit":1}', 'unit is 1'],
    ['a reserved id', '{"t":0,"site":"a","unit":"bank"}', 'unit is "bank"'],
    ['a bank of another name', '{"t":0,"site":"a","bank":"b1"}', 'bank is "b1"'],
    ['text for a number', `{${HEAD},"output_power_w":"1215"}`, 'output_power_w is "1215"'],
    ['a boolean for a number', `{${HEAD},"output_power_w":true}`, 'output_power_w is true'],
    ['a list for a number', `{${HEAD},"output_power_w":[1]}`, 'output_power_w is a list'],
    ['a number for a word', `{${HEAD},"mode":3}`, 'mode is 3'],
    ['an unknown word', `{${HEAD},"mode":"GRID"}`, 'mode is "GRID"'],
    ['a number out of range', `{${HEAD},"grid_voltage_v":9007199254740991}`, 'grid_voltage_v is 9007199254740991'],
    ['infinity', `{${HEAD},"output_power_w":1e999}`, 'output_power_w is Infinity'],
    ['t without offset', '{"t":"2026-03-02T06:00:00","site":"a","unit":"u1"}', 't is "2026-03-02T06:00:00"'],
    ['t with a fraction of a millisecond', '{"t":1772431200000.5,"site":"a","unit":"u1"}', 't is 1772431200000.5'],
    ['t beyond the year 9999', '{"t":253402300800000,"site":"a","unit":"u1"}', 't is 253402300800000'],
    ['replaces as text', `{${HEAD},"replaces":"true"}`, 'replaces is "true"'],
    ['revision below zero', `{${HEAD},"revision":-1}`, 'revision is -1'],
    ['revision with decimals', `{${HEAD},"revision":1.5}`, 'revision is 1.5'],
    ['settings as text', `{${HEAD},"settings":"x"}`, 'settings is "x"'],
    ['nested settings', `{${HEAD},"settings":{"a":{"b":1}}}`, 'settings.a is an object'],
    ['alarm without state', `{${HEAD},"alarm":"hot"}`, 'alarm "hot" has no state'],
    ['alarm of another state', `{${HEAD},"alarm":"hot","state":"on"}`, 'state is "on"'],
    ['alarm as number', `{${HEAD},"alarm":4,"state":"raised"}`, 'alarm is 4'],
    ['a list', '[1]', 'the line is a list'],
    ['a number', '17', 'the line is 17'],
    ['no JSON', 'hello', '"hello" is no JSON'],
    ['a trailing comma', `{${HEAD},}`, /is no JSON$/],
    ['a leading zero', `{${HEAD},"output_power_w":01}`, /is no JSON$/],
    ['a plus sign', `{${HEAD},"output_power_w":+1}`, /is no JSON$/],
    ['a point without digits', `{${HEAD},"output_power_w":1.}`, /is no JSON$/],
    ['two objects on one line', `{${HEAD}}{${HEAD}}`, /is no JSON$/],
  ])('refuses %s', (_, line, what) => {
    if (typeof what === 'string') expect(refusalOf(line).what).toBe(what);
    else expect(refusalOf(line).what).toMatch(what);
  });

  test('quotes at most 60 characters of a value', () => {
    const { what } = refusalOf(`{${HEAD},"output_power_w":"${'9'.repeat(500)}"}`);
    expect(what).toBe(`output_power_w is "${'9'.repeat(59)}…"`);
  });

  test('lists the words that a state may be', () => {
    expect(refusalOf(`{${HEAD},"mode":"on"}`).remedy).toBe(
      'use one of off, standby, starting, grid, backup, generator, fault',
    );
  });

  test('says of a line without its end that it is cut off', () => {
    expect(refusalOf(`{${HEAD},"output_po`).remedy).toContain('cut off');
  });

  test('says of bytes that are no UTF-8 how to save the file', () => {
    const line = Uint8Array.from([...bytesOf(`{${HEAD},"remark":"M`), 0xfc, ...bytesOf('ller"}\n')]);
    const { refused } = createNdjsonDecoder().decode(line, 1);
    expect(refused[0]?.what).toContain('not UTF-8');
    expect(refused[0]?.remedy).toContain('save it again as UTF-8');
  });

  test('says of NUL bytes what they most often are', () => {
    expect(refusalOf(`{${HEAD}\u0000\u0000}`).what).toBe('the line holds NUL bytes');
  });

  test('refuses a key that lies too deep to be written out again, however deep it is', () => {
    const deep = 200_000;
    expect(refusalOf(`{${HEAD},"x":${'['.repeat(deep)}${']'.repeat(deep)}}`).what).toBe(
      'x lies more than 32 lists or objects deep',
    );
    expect(refusalOf(`{${HEAD},"output_power_w":${'['.repeat(deep)}${']'.repeat(deep)}}`).what).toBe(
      'output_power_w is a list',
    );
  });

  test('names sources anew in each batch', () => {
    const decoder = createNdjsonDecoder();
    decoder.decode(bytesOf(`{${HEAD}}\n{${HEAD.replace('u1', 'u2')}}\n`), 1);
    const second = decoder.decode(bytesOf(`{${HEAD.replace('u1', 'u2')}}\n`), 3);
    expect(second.sources).toEqual([{ site: 'millpond', kind: 'unit', id: 'u2' }]);
    expect(describeBatch(second).readings[0]?.source).toBe('millpond/unit/u2');
  });

  test('a site with thousands of sources keeps them apart', () => {
    const lines = Array.from({ length: 9000 }, (_, k) => `{"t":${k},"site":"s${k % 90}","unit":"u${k}"}`);
    const decoder = createNdjsonDecoder();
    decoder.decode(bytesOf(lines.join('\n')), 1);
    const { readings } = describeBatch(decoder.decode(bytesOf(lines.join('\n')), 1));
    expect(readings.map(({ source }) => source)).toEqual(lines.map((_, k) => `s${k % 90}/unit/u${k}`));
  });
});
