import { describe, expect, test } from 'vitest';
import { niceTicks } from '../../../server/views/chart.ts';
import { joinIds } from '../../../server/views/line-end-names.ts';

describe('joinIds', () => {
  test.each([
    [['u1'], 'u1'],
    [['u1', 'u2'], 'u1, u2'],
    [['p1', 'p2', 'p3', 'p4'], 'p1–p4'],
    [['p1', 'p2', 'p4'], 'p1, p2, p4'],
    [['north', 'south', 'east'], 'north, south, east'],
  ])('%j reads %s', (ids, text) => {
    expect(joinIds(ids)).toBe(text);
  });
});

describe('niceTicks', () => {
  test.each([
    [{ min: 48.5, max: 51.5 }, 3, [49, 50, 51]],
    [{ min: 0, max: 100 }, 2, [0, 50, 100]],
    [{ min: -90, max: 160 }, 2, [0, 100]],
    [{ min: 0, max: 0.3 }, 3, [0, 0.1, 0.2, 0.3]],
  ])('of %j about %d', (range, about, ticks) => {
    expect(niceTicks(range, about)).toEqual(ticks);
  });
  test('never one alone, and none of a range that is none', () => {
    for (const max of [1.1, 7, 13, 42, 999]) expect(niceTicks({ min: 0.1, max }, 2).length).toBeGreaterThan(1);
    expect(niceTicks({ min: 1, max: 1 }, 3)).toEqual([]);
    expect(niceTicks({ min: Number.NaN, max: 1 }, 3)).toEqual([]);
  });
});
