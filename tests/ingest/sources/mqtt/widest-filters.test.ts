import { describe, expect, test } from 'vitest';
import { covers, widestFilters } from '../../../../ingest/sources/mqtt/_widest-filters.ts';

describe('covers', () => {
  test.each([
    ['#', 'a/b', true],
    ['#', '+/+', true],
    ['#', '$SYS/broker', false],
    ['+/broker', '$SYS/broker', false],
    ['$SYS/#', '$SYS/broker', true],
    ['a/#', 'a', true],
    ['a/#', 'ab', false],
    ['a/+', 'a/#', false],
    ['a/+', 'a/b', true],
    ['a/+', 'a', false],
    ['a/b', 'a/+', false],
    ['a/+/c', 'a/b/c/d', false],
  ])('%s covers %s: %s', (wide, narrow, expected) => {
    expect(covers(wide, narrow)).toBe(expected);
  });

  test('of filters that hear the same, only the widest are left, each once', () => {
    expect(widestFilters(['a/b', 'a/+', 'a/+', 'c', '$SYS/x'])).toEqual(['a/+', 'c', '$SYS/x']);
    expect(widestFilters(['a/b', '#', '$SYS/x'])).toEqual(['#', '$SYS/x']);
  });
});
