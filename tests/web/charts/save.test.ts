import { expect, test } from 'vitest';
import { csvOf } from '../../../web/charts/save.ts';

test('a cell with a comma, a quote or a line break is quoted, as RFC 4180 asks', () => {
  expect(
    csvOf([
      ['time', 'u1, W'],
      ['9:00 "a"', '1\n2'],
    ]),
  ).toBe('time,"u1, W"\r\n"9:00 ""a""","1\n2"\r\n');
});
