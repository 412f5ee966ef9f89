import { describe, expect, test } from 'vitest';
import { readDuration, readTime } from '../../../ingest/commands/read-time.ts';

describe('readTime', () => {
  test('takes RFC 3339 with any offset, and a date for its midnight UTC', () => {
    expect(readTime('try', 'from', '2026-03-28T14:00:00+02:00')).toBe(Date.UTC(2026, 2, 28, 12));
    expect(readTime('try', 'from', '2026-03-28')).toBe(Date.UTC(2026, 2, 28));
  });

  test.each(['2026-02-30', '2026-03-28T14:00', '28.3.2026', ''])('refuses %j', (text) => {
    expect(() => readTime('try', 'from', text)).toThrow(`--from is "${text}"; give a time with its offset`);
  });
});

describe('readDuration', () => {
  test.each([
    ['15s', 15_000],
    ['1m', 60_000],
    ['2h', 7_200_000],
    ['1d', 86_400_000],
  ])('reads %s', (text, ms) => {
    expect(readDuration('try', 'every', text)).toBe(ms);
  });

  test.each(['0s', '1.5h', '10', 'm', '1 m', '1w'])('refuses %j', (text) => {
    expect(() => readDuration('try', 'every', text)).toThrow(`--every is "${text}"; give a duration`);
  });
});
