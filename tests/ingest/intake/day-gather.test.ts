import fc from 'fast-check';
import { expect, test } from 'vitest';
import { createDayGather } from '../../../ingest/intake/day-gather.ts';

const value = fc.oneof(
  { weight: 5, arbitrary: fc.integer({ min: -3000, max: 3000 }) },
  { weight: 1, arbitrary: fc.constantFrom(-(2 ** 31), -(2 ** 31) + 1, 2 ** 31 - 1, 2 ** 31) },
  { weight: 1, arbitrary: fc.maxSafeInteger() },
);
const row = fc.dictionary(fc.constantFrom('0', '1', '4'), value, { noNullPrototype: true });

test('a gather gives back each value that was set and NaN for each that was not, of any size and in any order', () => {
  fc.assert(
    fc.property(fc.array(row, { minLength: 1, maxLength: 150 }), (rows) => {
      const gather = createDayGather();
      for (const [i, values] of rows.entries()) {
        expect(gather.addRow(i * 10)).toBe(i);
        for (const [column, one] of Object.entries(values)) gather.setValue(i, Number(column), one);
      }
      for (const column of ['0', '1', '2', '4']) {
        const expected = rows.map((values) => values[column] ?? Number.NaN);
        const isAbsent = expected.every(Number.isNaN);
        expect(gather.column(Number(column))).toEqual(isAbsent ? undefined : Float64Array.from(expected));
      }
      expect(gather.times()).toEqual(Float64Array.from(rows, (_, i) => i * 10));
    }),
  );
});

test('times that come strictly rising are known as such, a repeated or an earlier one ends it', () => {
  const isRising = (times: readonly number[]): boolean => {
    const gather = createDayGather();
    for (const t of times) gather.addRow(t);
    return gather.isRising;
  };
  expect(isRising([1, 2, 3])).toBe(true);
  expect(isRising([1, 2, 2])).toBe(false);
  expect(isRising([1, 3, 2, 4])).toBe(false);
});
