import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { eachJournalValue, JournalWriter, readJournalBlob } from '../../../ingest/store/journal-blob.ts';
import { T_MAX_MS, T_MIN_MS } from '../../../ingest/vocabulary/time.ts';

const whole = fc.oneof(
  fc.integer({ min: -5000, max: 5000 }),
  fc.integer({ min: -(2 ** 31), max: 2 ** 31 - 1 }),
  fc.maxSafeInteger(),
);
const reading = fc.record({
  source: fc.nat(100_000),
  t: fc.oneof(
    fc.integer({ min: 1_772_000_000_000, max: 1_772_000_100_000 }),
    fc.integer({ min: T_MIN_MS, max: T_MAX_MS }),
  ),
  values: fc.uniqueArray(fc.tuple(fc.nat(253), whole), { selector: ([column]) => column, maxLength: 30 }),
  extras: fc.option(fc.dictionary(fc.string({ unit: 'grapheme' }), fc.jsonValue()), { nil: null, freq: 4 }),
});

const rowOf = (t: number, values: readonly (readonly [number, number])[]): Float64Array =>
  Float64Array.of(0, t, values.length, ...values.flat());

function readBack(blob: Uint8Array) {
  const rows = readJournalBlob(blob);
  return Array.from({ length: rows.count }, (_, row) => {
    const values: [number, number][] = [];
    const extras = eachJournalValue(rows, row, (column, value) => values.push([column, value]));
    return { source: rows.source[row], t: rows.tMs[row], values, extras };
  });
}

describe('a blob of the journal', () => {
  test('gives back every reading as it was written, of any sources, times, columns and extras', () => {
    const writer = new JournalWriter();
    fc.assert(
      fc.property(fc.array(reading, { maxLength: 40 }), (readings) => {
        for (const { source, t, values, extras } of readings) {
          writer.add(source, rowOf(t, values), 0, extras === null ? null : JSON.stringify(extras));
        }
        expect(writer.count).toBe(readings.length);
        const expected = readings.map(({ extras, ...rest }) => ({
          ...rest,
          extras: extras === null ? null : JSON.parse(JSON.stringify(extras)),
        }));
        expect(readBack(writer.finish())).toEqual(expected);
      }),
    );
  });

  test('keeps the last of two values that a reading gives for one column', () => {
    const writer = new JournalWriter();
    writer.add(
      1,
      rowOf(5, [
        [3, 10],
        [4, 11],
        [3, 12],
      ]),
      0,
      null,
    );
    expect(readBack(writer.finish())[0]!.values).toEqual([
      [3, 12],
      [4, 11],
    ]);
  });

  test.each([
    ['a missing number', rowOf(5, [[3, Number.NaN]])],
    ['a fraction', rowOf(5, [[3, 1.5]])],
    ['a number beyond the exact ones', rowOf(5, [[3, 2 ** 60]])],
    ['a column that no kind has', rowOf(5, [[300, 1]])],
    ['a time that is none', rowOf(Number.NaN, [[3, 1]])],
  ])('refuses %s and goes on with the next reading', (_, row) => {
    const writer = new JournalWriter();
    writer.add(1, rowOf(5, [[3, 10]]), 0, null);
    expect(() => writer.add(1, row, 0, null)).toThrow(RangeError);
    writer.add(2, rowOf(6, [[3, 11]]), 0, null);
    expect(readBack(writer.finish()).map(({ source, values }) => [source, values])).toEqual([
      [1, [[3, 10]]],
      [2, [[3, 11]]],
    ]);
  });

  test('of another version is refused, not guessed at', () => {
    const writer = new JournalWriter();
    writer.add(1, rowOf(5, [[3, 10]]), 0, null);
    const blob = writer.finish();
    blob[0] = 99;
    expect(() => readJournalBlob(blob)).toThrow(/version 99/);
  });
});
