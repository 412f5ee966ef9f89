import { expect, test } from 'vitest';
import { upperMedianNow } from '../../../ingest/alignment/now.ts';

test.each([
  ['of three the middle one', [10, 30, 20], 20],
  ['of two the newer one', [10, 20], 20],
  ['a clock that is far ahead moves nothing', [10, 11, 1e15], 11],
  ['a source never heard counts as the oldest', [null, null, 10, 20], 10],
  ['most never heard: there is no now', [null, null, 10], null],
  ['nobody: there is no now', [], null],
])('upperMedianNow: %s', (_, newest, now) => {
  expect(upperMedianNow(newest)).toBe(now);
});
