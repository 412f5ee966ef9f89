import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { packBits, unpackBits } from '../../ingest/store/bit-pack.ts';
import { createByteReader, createByteWriter } from '../../ingest/store/byte-writer.ts';
import { decodeColumn, encodeColumn } from '../../ingest/store/column-codec.ts';
import { decodeDay, decodeSummary, encodeDay } from '../../ingest/store/day-block-codec.ts';

const hostileNumber = fc.oneof(
  { weight: 6, arbitrary: fc.integer({ min: -3000, max: 3000 }) },
  { weight: 2, arbitrary: fc.integer({ min: -(2 ** 31), max: 2 ** 31 - 1 }) },
  { weight: 1, arbitrary: fc.maxSafeInteger() },
);
const hostileColumn = fc
  .array(fc.option(hostileNumber, { nil: Number.NaN, freq: 5 }), { minLength: 1, maxLength: 700 })
  .filter((values) => values.some((v) => !Number.isNaN(v)))
  .map((values) => Float64Array.from(values, (v) => v + 0));
const smoothColumn = fc
  .tuple(
    fc.integer({ min: -100_000, max: 100_000 }),
    fc.integer({ min: -50, max: 50 }),
    fc.array(fc.integer({ min: -9, max: 9 }), { minLength: 1, maxLength: 900 }),
  )
  .map(([first, slope, noise]) => Float64Array.from(noise, (n, i) => first + slope * i + n));

describe('the codec gives back what it was given', () => {
  test('any column: smooth, random, with absent values, beyond 32 bits', () => {
    fc.assert(
      fc.property(fc.oneof(hostileColumn, smoothColumn), (values) => {
        expect(decodeColumn(encodeColumn(values), values.length)).toEqual(values);
      }),
      { numRuns: 1500 },
    );
  });

  test('any packed width from 0 to 31 bits, at any count', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 31 }), fc.array(fc.nat(2 ** 31 - 1), { maxLength: 128 }), (width, raw) => {
        const values = Int32Array.from(raw, (v) => v % 2 ** width);
        const words = new Uint32Array(129);
        const end = packBits(values, values.length, width, words, 0);
        const back = new Int32Array(128);
        expect(unpackBits(words, 0, values.length, width, back)).toBe(end);
        expect(back.subarray(0, values.length)).toEqual(values);
      }),
    );
  });

  test('any safe integer as a variable-length number', () => {
    fc.assert(
      fc.property(fc.array(fc.maxSafeInteger()), (values) => {
        const writer = createByteWriter(1);
        for (const value of values) writer.signed(value);
        for (const value of values) writer.varint(Math.abs(value));
        const reader = createByteReader(writer.take());
        expect(values.map(() => reader.signed())).toEqual(values.map((v) => v + 0));
        expect(values.map(() => reader.varint())).toEqual(values.map((v) => Math.abs(v)));
      }),
    );
  });

  test('a day of readings with jittered times, gaps, absent columns and extra keys', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -800_000, max: 800_000 }),
        fc.uniqueArray(fc.nat(86_399_999), { minLength: 1, maxLength: 400 }),
        fc.dictionary(fc.string(), fc.jsonValue(), { maxKeys: 3 }),
        (day, times, extra) => {
          const midnight = day * 86_400_000;
          const tMs = Float64Array.from(
            times.sort((a, b) => a - b),
            (t) => midnight + t,
          );
          const power = tMs.map((t, i) => (i % 3 === 0 ? Number.NaN : (t % 977) - 300));
          const extras = new Map([[0, JSON.parse(JSON.stringify(extra)) as Record<string, unknown>]]);
          const { data, summary } = encodeDay({ tMs, columns: [undefined, power], extras });
          const back = decodeDay(data, midnight);
          expect(back.tMs).toEqual(tMs);
          expect(back.extras).toEqual(extras);
          const present = [...power].filter((v) => !Number.isNaN(v));
          if (present.length === 0) {
            expect(back.columns[1]).toBeUndefined();
            expect(decodeSummary(summary)).toEqual([]);
          } else {
            expect(back.columns[1]).toEqual(power);
            const sum = present.reduce((a, b) => a + b, 0);
            expect(decodeSummary(summary)).toEqual([
              { column: 1, count: present.length, min: Math.min(...present), max: Math.max(...present), sum },
            ]);
          }
        },
      ),
      { numRuns: 400 },
    );
  });
});
