import { describe, expect, test } from 'vitest';
import { runsBeyond } from '../../../ingest/math/runs-beyond.ts';

describe('runsBeyond', () => {
  test('finds runs at both ends of the series', () => {
    expect(runsBeyond([9, 5, 9, 9], { above: 8 })).toEqual([
      { from: 0, to: 1 },
      { from: 2, to: 4 },
    ]);
  });
  test('a value on the limit is not beyond it', () => expect(runsBeyond([8, 2], { below: 2, above: 8 })).toEqual([]));
  test('a gap ends a run', () => expect(runsBeyond([1, Number.NaN, 1], { below: 2 })).toHaveLength(2));
  test('refuses to look without a limit, or with NaN', () => {
    expect(() => runsBeyond([1], {})).toThrow('no limit given');
    expect(() => runsBeyond([1], { below: Number.NaN })).toThrow(RangeError);
  });
});
