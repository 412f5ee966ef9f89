import { describe, expect, test } from 'vitest';
import { lineThroughOrigin } from '../../../ingest/math/line-through-origin.ts';

describe('lineThroughOrigin', () => {
  test('cannot tell a slope where all x are 0', () => expect(lineThroughOrigin([0, 0], [1, 2])).toBeNull());
  test('cannot tell an error from one point', () =>
    expect(lineThroughOrigin([2], [6])).toMatchObject({ slope: 3, slopeError: Number.NaN }));
  test('refuses a missing value', () => expect(() => lineThroughOrigin([1, 2], [1, Number.NaN])).toThrow(RangeError));
});
