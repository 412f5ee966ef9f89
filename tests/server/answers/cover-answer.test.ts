import { describe, expect, test } from 'vitest';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { DAY_MS, epochMs, HOUR_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { coverOf } from '../../../server/answers/cover-answer.ts';
import type { ApiEvent } from '../../../server/contract/event.ts';

const T0 = epochMs(1_772_409_600_000);
const event = (startMin: number, minutes: number | null, more: Partial<ApiEvent> = {}): ApiEvent => ({
  site: 's',
  start: epochMs(T0 + startMin * MINUTE_MS),
  end: minutes === null ? null : epochMs(T0 + (startMin + minutes) * MINUTE_MS),
  startUncertaintyS: 10,
  held: true,
  outputLostS: 0,
  occasion: 'unknown',
  energyWh: null,
  peakW: null,
  socStartPct: null,
  socEndPct: null,
  frequencyMinHz: null,
  frequencyMaxHz: null,
  voltageMinV: null,
  voltageMaxV: null,
  units: {},
  mark: null,
  ...more,
});
const cover = (events: readonly ApiEvent[], findings: readonly Finding[] = [], days = 10) =>
  coverOf({ autonomy: [], findings }, events, T0, T0 + days * DAY_MS).reliability!;

describe('coverOf', () => {
  test('counts by the five minutes of IEEE 1366, grid apart from output, tests left out', () => {
    const found = cover([
      event(60, 30),
      event(300, 4),
      event(600, 120, { outputLostS: 900, held: false }),
      event(900, 60, { occasion: 'test' }),
    ]);
    expect(found).toMatchObject({
      grid: { sustained: 2, sustainedMin: 150, momentary: 1 },
      output: { sustained: 1, sustainedMin: 15, momentary: 0 },
      tests: 1,
    });
    expect(found.grid.available).toBeCloseTo(1 - 150 / (10 * 24 * 60), 9);
    expect(found.output.available).toBeCloseTo(1 - 15 / (10 * 24 * 60), 9);
  });

  test('an outage that lasts counts up to the newest reading, and silence is told beside', () => {
    const silence = { kind: 'site_silent', start: epochMs(T0 + HOUR_MS), end: epochMs(T0 + 3 * HOUR_MS) } as Finding;
    const found = cover([event(10 * 24 * 60 - 30, null)], [silence]);
    expect([found.grid.sustainedMin, found.silentMin]).toEqual([30, 120]);
  });

  test('looks back one year at most, and tells nothing of a site that was never heard', () => {
    const found = cover([event(60, 30), event(399 * 24 * 60, 30)], [], 400);
    expect([found.grid.sustained, found.to - found.from]).toEqual([1, 365 * DAY_MS]);
    expect(coverOf({ autonomy: [], findings: [] }, [], null, null)).toEqual({ autonomy: null, reliability: null });
  });
});
