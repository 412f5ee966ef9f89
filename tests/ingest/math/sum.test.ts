import { describe, expect, test } from 'vitest';
import { sum } from '../../../ingest/math/sum.ts';

describe('sum', () => {
  test('keeps a small value between two large ones that cancel', () => expect(sum([1, 1e100, 1, -1e100])).toBe(2));
  test('a thousand tenths are exactly a hundred', () => expect(sum(new Float64Array(1000).fill(0.1))).toBe(100));
  test('nothing is zero', () => expect(sum([])).toBe(0));
});
