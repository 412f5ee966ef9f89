import { describe, expect, test } from 'vitest';
import { settingKey, settingNumber } from '../../../ingest/analysis/_setting-values.ts';

describe('settingKey', () => {
  test.each([
    ['230', 230],
    [' 230.0 ', 230],
    ['true', true],
    ['0', 0],
  ])('%j and %j are the same', (a, b) => {
    expect(settingKey(a)).toBe(settingKey(b));
  });

  test.each([
    ['1.4.0', '1.40'],
    ['', 0],
    ['lithium', 'Lithium-2'],
    [true, 1],
  ])('%j and %j are not', (a, b) => {
    expect(settingKey(a)).not.toBe(settingKey(b));
  });
});

describe('settingNumber', () => {
  test('is null for what is no number', () => {
    expect(['230', 50, 'lead', '', true, null].map(settingNumber)).toEqual([230, 50, null, null, null, null]);
  });
});
