import { describe, expect, test } from 'vitest';
import { isJsonPointer, jsonPointer } from '../../../../ingest/wire/mqtt/json-pointer.ts';

const DOCUMENT = {
  foo: ['bar', 'baz'],
  '': 0,
  'a/b': 1,
  'c%d': 2,
  'e^f': 3,
  'g|h': 4,
  'i\\j': 5,
  'k"l': 6,
  ' ': 7,
  'm~n': 8,
};

describe('jsonPointer', () => {
  test.each([
    ['/foo', ['bar', 'baz']],
    ['/foo/0', 'bar'],
    ['/', 0],
    ['/a~1b', 1],
    ['/c%d', 2],
    ['/e^f', 3],
    ['/g|h', 4],
    ['/i\\j', 5],
    ['/k"l', 6],
    ['/ ', 7],
    ['/m~0n', 8],
  ])('agrees with the example %s of RFC 6901, section 5', (pointer, value) => {
    expect(isJsonPointer(pointer)).toBe(true);
    expect(jsonPointer(pointer)(DOCUMENT)).toEqual(value);
  });

  test('the empty pointer is the whole document', () => {
    expect(jsonPointer('')(DOCUMENT)).toBe(DOCUMENT);
  });

  test('nothing stands where the document itself holds nothing', () => {
    for (const pointer of ['/foo/2', '/foo/00', '/foo/-', '/foo/length', '/constructor', '/__proto__', '/a/b/c'])
      expect(jsonPointer(pointer)(DOCUMENT)).toBeUndefined();
  });

  test('a text that is no pointer is known', () => {
    expect(['out/kw', '/a~', '/a~2'].some(isJsonPointer)).toBe(false);
  });
});
