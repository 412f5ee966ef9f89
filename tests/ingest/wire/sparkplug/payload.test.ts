import { describe, expect, test } from 'vitest';
import { DATATYPE, metricValue } from '../../../../ingest/wire/sparkplug/metric-value.ts';
import { decodePayload, type SparkplugPayload } from '../../../../ingest/wire/sparkplug/payload.ts';
import { SeqWindow } from '../../../../ingest/wire/sparkplug/seq-window.ts';
import { AT, encode } from './_node.ts';

const decoded = (bytes: Uint8Array): SparkplugPayload => {
  const payload = decodePayload(bytes);
  if ('remedy' in payload) throw new RangeError(payload.what);
  return payload;
};
/** A value through the foreign codec and back. */
const through = (type: keyof typeof DATATYPE, value: unknown) => {
  const [metric] = decoded(encode({ timestamp: AT, metrics: [{ name: 'x', type, value, timestamp: AT }] })).metrics;
  expect(metric?.datatype).toBe(DATATYPE[type]);
  const said = metricValue(metric!.raw, metric!.datatype);
  return said.is === 'value' ? said.value : said.is;
};

describe('decodePayload', () => {
  test.each([
    ['Int8', -5],
    ['Int16', -30_000],
    ['Int32', -5],
    ['Int32', -2_147_483_648],
    ['Int64', -1],
    ['Int64', Number.MIN_SAFE_INTEGER],
    ['UInt8', 251],
    ['UInt16', 65_531],
    ['UInt32', 4_294_967_291],
    ['UInt64', Number.MAX_SAFE_INTEGER],
    ['Float', 229.8],
    ['Double', 229.8000030517578],
    ['Boolean', true],
    ['String', 'ON GRID'],
    ['Text', ''],
    ['DateTime', AT],
  ] as const)('a foreign codec and ours agree on %s %s', (type, value) => {
    expect(through(type, value)).toBe(value);
  });

  test("short two's complement of some encoders is the same number", () => {
    expect(metricValue({ form: 'int', value: 251 }, DATATYPE.Int8)).toEqual({ is: 'value', value: -5 });
    expect(metricValue({ form: 'int', value: 0xffff_fffb }, DATATYPE.Int8)).toEqual({ is: 'value', value: -5 });
    expect(metricValue({ form: 'long', value: 0xffff_ffff_ffff_fffbn }, DATATYPE.Int32)).toEqual({
      is: 'value',
      value: -5,
    });
  });

  test('an integer whose datatype nobody said has no sign, so it is no number', () => {
    expect(metricValue({ form: 'int', value: 7 }, 0)).toEqual({ is: 'untyped' });
  });

  test('names, aliases and nulls come through', () => {
    const { metrics, seq } = decoded(
      encode({ timestamp: AT, seq: 255, metrics: [{ alias: 0, type: 'Int32', value: null, isNull: true }] }),
    );
    expect(seq).toBe(255);
    expect(metrics[0]).toMatchObject({ alias: 0n, isNull: true });
  });

  test('more metrics than a device can have are refused without being kept', () => {
    const flood = Uint8Array.from({ length: 60_000 }, (_, k) => (k % 2 === 0 ? 0x12 : 0));
    expect(decodePayload(flood)).toMatchObject({ what: expect.stringContaining('more than 20000 metrics') });
  });
});

describe('SeqWindow', () => {
  test('counts on from 255 to 0, and from whatever a birth begins with', () => {
    const seq = new SeqWindow();
    seq.begin(254);
    for (const one of [255, 0, 1]) seq.see(one);
    expect(seq.lost).toBe(0);
  });

  test('a message that came twice or late is no loss, one that never came is', () => {
    const seq = new SeqWindow();
    seq.begin(0);
    for (const one of [1, 1, 4, 3, 4]) seq.see(one);
    expect(seq.lost).toBe(1);
    seq.see(2);
    expect(seq.lost).toBe(0);
  });

  test('what is missing for more than a window is lost for good', () => {
    const seq = new SeqWindow();
    seq.begin(0);
    for (let one = 2; one < 60; one += 1) seq.see(one);
    seq.see(1);
    expect(seq.lost).toBe(1);
  });
});
