import { describe, expect, test } from 'vitest';
import { deming } from '../../../ingest/math/deming.ts';

describe('deming', () => {
  test('finds the line through points that lie on one, whatever the ratio of errors', () => {
    for (const delta of [0.01, 1, 100]) expect(deming([0, 1, 2, 3], [1, 3, 5, 7], delta)?.slope).toBeCloseTo(2, 12);
  });
  test('turns with the axes: swapped columns and ratio give the inverse slope', () => {
    const [x, y] = [
      [1, 2, 4, 7],
      [1.2, 1.9, 4.4, 6.5],
    ];
    expect(deming(y, x, 1 / 3)!.slope).toBeCloseTo(1 / deming(x, y, 3)!.slope, 12);
  });
  test('cannot tell a direction without covariance', () =>
    expect(deming([1, 1, -1, -1], [1, -1, 1, -1], 1)).toBeNull());
  test('cannot tell an error from two points', () =>
    expect(deming([0, 1], [0, 2], 1)).toMatchObject({ slope: 2, slopeError: Number.NaN }));
  test.each([0, -1, Number.NaN])('refuses the ratio of variances %d', (delta) =>
    expect(() => deming([0, 1], [0, 1], delta)).toThrow('is not above 0'),
  );
});
