import { describe, expect, test } from 'vitest';
import { requireFinite, requireFinitePairs } from '../../../ingest/math/require-finite.ts';

describe('requireFinite', () => {
  test('takes finite values', () => expect(() => requireFinite([1, -2, 0], 3, 'look')).not.toThrow());
  test('says which value is missing, and where', () => {
    expect(() => requireFinite([1, Number.NaN], 1, 'take a mean')).toThrow(
      new RangeError('Cannot take a mean: value NaN at index 1 is not a finite number'),
    );
  });
  test('says how many values it needs', () => {
    expect(() => requireFinite([1], 2, 'fit a line')).toThrow(
      new RangeError('Cannot fit a line: needs at least 2 values, got 1'),
    );
  });
});

describe('requireFinitePairs', () => {
  test('refuses columns of different lengths', () => {
    expect(() => requireFinitePairs([1, 2], [1], 1, 'fit a line')).toThrow(
      new RangeError('Cannot fit a line: 2 x values but 1 y values'),
    );
  });
});
