import { describe, expect, test } from 'vitest';
import { THEIL_SEN_POINTS_MAX, theilSen } from '../../../ingest/math/theil-sen.ts';

describe('theilSen', () => {
  test('cannot tell a slope where all x are equal', () => expect(theilSen([1, 1], [1, 2])).toBeNull());
  test('passes over pairs at one x', () => expect(theilSen([0, 0, 1, 2], [0, 0, 1, 2])?.slope).toBe(1));
  test('refuses more points than it can pair', () => {
    const many = new Float64Array(THEIL_SEN_POINTS_MAX + 1);
    expect(() => theilSen(many, many)).toThrow('4001 points, at most 4000');
  });
});
