import { expect, test } from 'vitest';
import { utcOffsetMs } from '../../../ingest/runner/utc-offset.ts';
import { HOUR_MS, parseTime } from '../../../ingest/vocabulary/time.ts';

// Directive 2000/84/EC: summer time from the last Sunday of March to the last of October, at 01:00 UTC.
test.each([
  ['Europe/Lisbon', '2026-03-29T00:59:59Z', 0],
  ['Europe/Lisbon', '2026-03-29T01:00:00Z', 1],
  ['Europe/Vienna', '2026-10-25T00:59:59Z', 2],
  ['Europe/Vienna', '2026-10-25T01:00:00Z', 1],
  ['Asia/Kolkata', '2026-06-01T00:00:00Z', 5.5],
  ['Nowhere/Else', '2026-06-01T00:00:00Z', 0],
])('%s at %s is %s h ahead of UTC', (zone, at, hours) => {
  expect(utcOffsetMs(zone, parseTime(at)!)).toBe(hours * HOUR_MS);
});
