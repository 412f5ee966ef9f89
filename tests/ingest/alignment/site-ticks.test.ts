import { describe, expect, test } from 'vitest';
import type { SourceDay } from '../../../ingest/alignment/day-block.ts';
import { firstRowAt, walkInstants } from '../../../ingest/alignment/site-ticks.ts';

const source = (...tMs: number[]): SourceDay => ({ id: 'u1', tMs: Float64Array.from(tMs), columns: new Map() });

/** Each instant as `t: newest rows, who moved`. */
function walked(sources: readonly SourceDay[], from: readonly number[], last = Number.POSITIVE_INFINITY): string[] {
  const seen: string[] = [];
  walkInstants(sources, from, (t, rows, moved) => {
    seen.push(`${t}: ${rows.join(' ')}, ${moved.join('')}`);
    return t < last;
  });
  return seen;
}

describe('walkInstants', () => {
  test('goes through all readings in order of time, those of one instant together', () => {
    expect(walked([source(1, 4, 6), source(2, 4)], [0, 0])).toEqual([
      '1: 0 -1, 10',
      '2: 0 0, 01',
      '4: 1 1, 11',
      '6: 2 1, 10',
    ]);
  });

  test('begins at the given rows and stops where it is told to', () => {
    expect(walked([source(1, 4, 6), source(2, 4)], [1, 2], 4)).toEqual(['4: 1 -1, 10']);
  });

  test('without readings there is nothing to go through', () => {
    expect(walked([], [])).toEqual([]);
    expect(walked([source()], [0])).toEqual([]);
  });
});

describe('firstRowAt', () => {
  test('is the first row at or after a time, and the number of rows where there is none', () => {
    const tMs = Float64Array.from([10, 20, 30]);
    expect([5, 10, 11, 30, 31].map((t) => firstRowAt(tMs, t))).toEqual([0, 0, 1, 2, 3]);
  });
});
