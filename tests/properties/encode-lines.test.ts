import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { COLUMNS, fromStored, SOURCE_KINDS } from '../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import { encodeLines } from '../../ingest/wire/encode-lines.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { bytesOf, describeBatch } from '../ingest/wire/describe-batch.ts';

const decode = (text: string) => createNdjsonDecoder().decode(bytesOf(text), 1);

const extras = fc.dictionary(
  fc.constantFrom('wifi_dbm', 'note', 'settings', 'state', '__proto__', 'unit_name'),
  fc.oneof(fc.integer(), fc.string(), fc.boolean(), fc.constant([1, { a: 'b' }])),
);
const settings = fc.dictionary(
  fc.constantFrom('battery_type', 'firmware', 'x'),
  fc.oneof(fc.string(), fc.integer(), fc.boolean()),
  { minKeys: 1 },
);
/** A line that is taken, with any mixture of readings, settings, an alarm and corrections. */
const line = fc
  .tuple(
    fc.constantFrom(...SOURCE_KINDS),
    fc.integer({ min: -62_135_596_800_000, max: 253_402_300_799_999 }),
    fc.array(fc.tuple(fc.nat(), fc.integer({ min: -2_000_000_000, max: 100_000_000_000_000 })), { maxLength: 8 }),
    fc.option(extras, { nil: {} }),
    fc.option(settings, { nil: null }),
    fc.option(fc.constantFrom('raised', 'cleared'), { nil: null }),
    fc.option(fc.nat(5), { nil: null }),
  )
  .map(([kind, t, values, others, set, alarm, revision]) => {
    const columns = COLUMNS[kind];
    const told = values.map(([at, stored]) => {
      const { id, decimals, words } = columns[at % columns.length]!;
      return [id, words === null ? fromStored(decimals, stored) : words[Math.abs(stored) % words.length]];
    });
    return JSON.stringify({
      ...others,
      t,
      site: 'millpond',
      [kind]: kind === 'bank' ? 'bank' : 'x-1',
      ...Object.fromEntries(told),
      ...(set === null || kind !== 'unit' ? {} : { settings: set }),
      ...(alarm === null ? {} : { alarm: 'over temperature', state: alarm }),
      ...(revision === null ? {} : { replaces: true, revision }),
    });
  });

/** Settings and alarms on lines of their own come after readings: their order says nothing. */
function said(batch: ReadingBatch): unknown {
  const { readings, settings: set, alarms } = describeBatch(batch);
  const sorted = (all: readonly unknown[]): string[] => all.map((one) => JSON.stringify(one)).sort();
  return { readings, settings: sorted(set), alarms: sorted(alarms), lines: batch.lines };
}

describe('encodeLines', () => {
  test('lines that were decoded, encoded and decoded again say the same', () => {
    fc.assert(
      fc.property(fc.array(line, { maxLength: 20 }), (lines) => {
        const once = decode(lines.join('\n'));
        const again = decode(
          encodeLines(once)
            .map(({ text }) => text)
            .join('\n'),
        );
        expect(again.refused).toEqual([]);
        expect(said(again)).toEqual(said({ ...once, lines: once.lines - once.refused.length }));
      }),
      { numRuns: 300 },
    );
  });
});
