import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { COLUMNS, type Column, fromStored, SOURCE_KINDS, toStored } from '../../ingest/vocabulary/quantities.ts';
import { parseTime } from '../../ingest/vocabulary/time.ts';
import { BatchBuilder } from '../../ingest/wire/batch-builder.ts';
import { createLineChunks } from '../../ingest/wire/line-chunks.ts';
import { isFault } from '../../ingest/wire/line-meaning.ts';
import { createNdjsonDecoder, readJsonLine } from '../../ingest/wire/ndjson.ts';
import { PLAIN_LINES } from '../../ingest/wire/row-end.ts';
import { bytesOf, type DescribedBatch, describeBatch, describeBatches } from '../ingest/wire/describe-batch.ts';
import { mutated } from './_mutated.ts';

/** Numbers as a line may write them, good and bad. */
const numberText = fc.oneof(
  fc.integer({ min: -99999, max: 99999 }).map(String),
  fc.tuple(fc.integer({ min: -9999, max: 9999 }), fc.integer({ min: 0, max: 9999 })).map(([a, b]) => `${a}.${b}`),
  fc.double({ noNaN: true, noDefaultInfinity: true }).map((x) => JSON.stringify(x)),
  fc.bigInt({ min: -(10n ** 20n), max: 10n ** 20n }).map(String),
  fc.constantFrom(
    '-0',
    '-0.0',
    '0.05',
    '-0.05',
    '1e3',
    '1E-2',
    '01',
    '1.',
    '.5',
    '+1',
    '-',
    '0x1',
    '229.85',
    '0.30000000000000004',
    '9007199254740993',
    '123456789012345.6',
    'NaN',
  ),
);
const word = fc.constantFrom(
  '"grid"',
  '"backup"',
  '"off"',
  '"idle"',
  '"GRID"',
  '""',
  '"\\u0067rid"',
  '"grid\\n"',
  '"Müller"',
  'true',
  'false',
  'null',
  '[1]',
  '{"a":1}',
  'nul',
  '"',
);
const timeText = fc.oneof(
  fc
    .date({ min: new Date('0001-01-01'), max: new Date('9999-12-31'), noInvalidDate: true })
    .map((d) => `"${d.toISOString()}"`),
  fc.integer({ min: 0, max: 86_399_999 }).map((ms) => `"${new Date(Date.UTC(2026, 2, 2) + ms).toISOString()}"`),
  fc
    .integer({ min: 0, max: 86_399 })
    .map((s) => `"${new Date(Date.UTC(2026, 2, 2) + s * 1000).toISOString().slice(0, 19)}Z"`),
  fc.integer({ min: 0, max: 2_000_000_000_000 }).map(String),
  fc.constantFrom(
    '"2026-03-02T06:00:00.12345+01:00"',
    '"2026-03-02t06:00:00z"',
    '"2026-03-02 06:00:00Z"',
    '"2026-02-30T06:00:00Z"',
    '"2026-03-02T24:00:00Z"',
    '"2026-03-02T23:59:60Z"',
    '"2026-03-02T06:00:00"',
    '""',
    '1.5',
    'null',
    '-5',
  ),
);
const keys = [
  ...SOURCE_KINDS.flatMap((kind) => COLUMNS[kind].map(({ id }) => id as string)),
  'door',
  'state',
  'x"y',
  '7',
  '',
  'Tür',
  '__proto__',
  'grid_voltage',
];
const field = fc
  .tuple(fc.constantFrom(...keys), fc.oneof({ weight: 4, arbitrary: numberText }, word))
  .map(([key, value]) => [JSON.stringify(key), value] as const);
const space = fc.constantFrom('', '', '', ' ', '  ', '\t');
const head = fc.tuple(
  fc.tuple(fc.constant('"t"'), timeText),
  fc.tuple(fc.constant('"site"'), fc.constantFrom('"millpond"', '"a"', '"A"', '""', 'null')),
  fc.tuple(
    fc.constantFrom('"unit"', '"pack"', '"bank"', '"meter"'),
    fc.constantFrom('"u1"', '"u2"', '"p1"', '"bank"', '"site"', '3'),
  ),
);
const line = fc
  .tuple(head, fc.array(field, { maxLength: 8 }), fc.boolean(), space, space, space)
  .map(([first, rest, isReversed, a, b, c]) => {
    const all = [...first, ...rest];
    const fields = (isReversed ? all.reverse() : all).map(([key, value]) => `${a}${key}${b}:${c}${value}`);
    return `{${fields.join(`${b},`)}${a}}${c}`;
  });
const file = fc.array(fc.oneof({ weight: 12, arbitrary: line }, fc.constantFrom('', ' ', 'x', '[]')), {
  maxLength: 12,
});

/** The slow way alone, line by line. */
function reference(text: string): DescribedBatch {
  const builder = new BatchBuilder();
  for (const [k, each] of text.split('\n').entries()) {
    if (each.trim() === '') continue;
    const meaning = readJsonLine(bytesOf(each));
    if (isFault(meaning)) builder.refuse(k + 1, meaning);
    else {
      builder.countLine();
      builder.take(meaning);
    }
  }
  return describeBatch(builder.finish());
}

describe('the fast way through NDJSON', () => {
  test('says of every line what JSON.parse says of it', () => {
    fc.assert(
      fc.property(file, (lines) => {
        const text = lines.join('\n');
        expect(describeBatch(createNdjsonDecoder().decode(bytesOf(text), 1))).toEqual(reference(text));
        expect(describeBatch(createNdjsonDecoder().decode(bytesOf(`${text}\n`), 1))).toEqual(reference(text));
      }),
      { numRuns: 1500 },
    );
  });

  test('gives the values that JSON.parse and toStored give, whatever the number', () => {
    const columns = COLUMNS.unit.filter(({ words }) => words === null);
    const value = fc
      .tuple(fc.integer({ min: -999_999_999, max: 999_999_999 }), fc.integer({ min: 0, max: 6 }))
      .map(([mantissa, decimals]) => {
        const digits = String(Math.abs(mantissa)).padStart(decimals + 1, '0');
        const whole = digits.slice(0, digits.length - decimals);
        return `${mantissa < 0 ? '-' : ''}${whole}${decimals === 0 ? '' : `.${digits.slice(-decimals)}`}`;
      });
    fc.assert(
      fc.property(fc.array(value, { minLength: columns.length, maxLength: columns.length }), (texts) => {
        const json = `{"t":"2026-03-02T06:00:03.217Z","site":"a","unit":"u1",${columns.map(({ id }, k) => `"${id}":${texts[k]}`).join(',')}}`;
        const parsed = JSON.parse(json) as Record<string, number>;
        const expected = columns.map(({ id, decimals }: Column) => [
          id,
          fromStored(decimals, toStored(decimals, parsed[id]!)),
        ]);
        const { readings } = describeBatch(createNdjsonDecoder().decode(bytesOf(`${json}\n`), 1));
        expect(readings).toEqual([
          {
            source: 'a/unit/u1',
            t: new Date(parseTime('2026-03-02T06:00:03.217Z')!).toISOString(),
            values: Object.fromEntries(expected),
          },
        ]);
      }),
      { numRuns: 500 },
    );
  });

  test('says the same wherever a file is cut', () => {
    fc.assert(
      fc.property(file, fc.array(fc.nat(400), { maxLength: 6 }), (lines, cuts) => {
        const bytes = bytesOf(lines.join('\n'));
        const chunks = createLineChunks({ form: PLAIN_LINES });
        const places = [0, ...cuts.filter((cut) => cut < bytes.length).sort((a, b) => a - b), bytes.length];
        const pieces = places.slice(1).flatMap((to, k) => [...chunks.feed(bytes.subarray(places[k]!, to))]);
        const decoder = createNdjsonDecoder();
        const batches = [...pieces, ...chunks.end()].flatMap((piece) =>
          piece.kind === 'lines' ? [decoder.decode(piece.bytes, piece.firstLine)] : [],
        );
        expect(describeBatches(batches)).toEqual(reference(lines.join('\n')));
      }),
      { numRuns: 400 },
    );
  });
});

const GOOD = bytesOf(
  `${[
    '{"t":"2026-03-02T06:00:03.217Z","site":"millpond","unit":"u1","grid_voltage_v":229.8,"output_power_w":1215,"mode":"grid","door":"open"}',
    '{"t": "2026-03-02T06:00:03Z", "site": "millpond", "pack": "p1", "pack_voltage_v": 53.24, "pack_current_a": -4.2, "soc_pct": 71}',
    '{"t":1772431200000,"site":"millpond","unit":"u1","settings":{"battery_type":"lithium","battery_shared":true}}',
    '{"t":"2026-03-02T06:00:00Z","site":"millpond","unit":"u1","alarm":"over temperature","state":"raised"}',
    '{"t":"2026-03-02T06:00:00Z","site":"millpond","bank":"bank","bank_soc_pct":70,"replaces":true,"revision":2}',
  ].join('\n')}\n`,
);

describe('hostile bytes', () => {
  test('never make the NDJSON decoder throw, and every line is taken or refused', () => {
    const decoder = createNdjsonDecoder();
    for (let seed = 1; seed <= 20_000; seed += 1) {
      const bytes = mutated(GOOD, seed);
      const batch = decoder.decode(bytes, 1);
      const taken =
        batch.readings +
        batch.settings.filter(({ reading }) => reading === null).length +
        batch.alarms.filter(({ reading }) => reading === null).length;
      // A line may say a setting and an alarm at once: then it is one line and two entries.
      if (taken + batch.refused.length < batch.lines || batch.refused.length > batch.lines)
        throw new Error(`seed ${seed}: ${batch.lines} lines`);
      const filled = new TextDecoder()
        .decode(bytes)
        .split('\n')
        .filter((text) => /[^ \t\r]/.test(text.replace(/^\ufeff/, ''))).length;
      if (batch.lines > filled + 1) throw new Error(`seed ${seed}: ${batch.lines} lines of ${filled}`);
      if (seed % 40 === 0) describeBatch(batch);
    }
    expect(describeBatch(decoder.decode(GOOD, 1))).toMatchObject({ lines: 5, refused: [] });
  });
});
