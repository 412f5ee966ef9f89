import { expect, test } from 'vitest';
import { PollTimes } from '../../../../ingest/sources/modbus/_poll-times.ts';

const HOUR_MS = 3_600_000;

test('a time that goes forward is taken as it is', () => {
  const times = new PollTimes();
  expect([10, 20, 30].map((t) => times.take(t))).toEqual([10, 20, 30]);
});

test('after a clock was set back no poll has the time of another, and each keeps its own to some milliseconds', () => {
  const times = new PollTimes();
  const first = Array.from({ length: 720 }, (_, n) => times.take(n * 10_000));
  const second = Array.from({ length: 720 }, (_, n) => times.take(2 * HOUR_MS - HOUR_MS - 3_600_000 + n * 10_000));
  const third = times.take(0);
  expect(new Set([...first, ...second, third]).size).toBe(1441);
  expect(second[5]).toBe(50_001);
  expect(third).toBe(2);
});
