/** Random sites, samplings, outages and gaps, against the outages that were put in. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { backupEvents, backupEventsAnalyzer } from '../../../ingest/analysis/backup-events.ts';
import { excursions } from '../../../ingest/analysis/excursions.ts';
import { outputLost } from '../../../ingest/analysis/output-lost.ts';
import { at, findingsOf, foldLog, type Line, siteOf } from './_check.ts';

const HOURS = 26;
const FROM = at('10:00');
const TO = FROM + HOURS * 3_600_000;

interface Span {
  readonly from: number;
  readonly to: number;
}

/** Spans with at least 25 minutes between them, from seconds of pause and of length. */
function spansOf(pairs: readonly (readonly [number, number])[]): Span[] {
  const spans: Span[] = [];
  let t = FROM;
  for (const [pauseS, longS] of pairs) {
    const from = t + (1500 + pauseS) * 1000;
    t = from + longS * 1000;
    if (t < TO - 1_500_000) spans.push({ from, to: t });
  }
  return spans;
}

const inSpan = (spans: readonly Span[], t: number): boolean => spans.some(({ from, to }) => t >= from && t < to);

/** One unit's readings: sampled every so often from its own offset on, each a little early or late, none in a gap. */
function readings(
  id: string,
  intervalS: number,
  offset: number,
  outages: readonly Span[],
  gaps: readonly Span[],
): Line[] {
  const out: Line[] = [];
  for (let k = 0; ; k++) {
    const t = FROM + Math.round((k + offset + 0.05 * Math.sin(k * 7 + offset)) * intervalS * 1000);
    if (t >= TO) return out;
    if (inSpan(gaps, t) || t < FROM) continue;
    const isAway = inSpan(outages, t);
    out.push({
      t,
      unit: id,
      mode: isAway ? 'backup' : 'grid',
      grid_voltage_v: isAway ? 0 : 231,
      output_voltage_v: isAway ? 229 : 231,
      output_frequency_hz: isAway ? 50.02 : 49.98,
      output_power_w: 1500,
    });
  }
}

const fleet = fc.record({
  intervalS: fc.constantFrom(10, 30, 60),
  offsets: fc.array(
    fc.integer({ min: 5, max: 95 }).map((n) => n / 100),
    { minLength: 1, maxLength: 3 },
  ),
  outages: fc.array(fc.tuple(fc.integer({ min: 0, max: 9000 }), fc.integer({ min: 70, max: 12_000 })), {
    maxLength: 6,
  }),
  gaps: fc.array(fc.tuple(fc.integer({ min: 0, max: 9000 }), fc.integer({ min: 30, max: 7000 })), { maxLength: 4 }),
});

describe('backupEvents at random', () => {
  test('finds every outage longer than a sample to within a sample, and no other, all of them held', () => {
    fc.assert(
      fc.property(fleet, ({ intervalS, offsets, outages }) => {
        const spans = spansOf(outages);
        const ids = offsets.map((_, k) => `u${k + 1}`);
        const log = ids.flatMap((id, k) => readings(id, intervalS, offsets[k]!, spans, []));
        const site = siteOf({ units: ids.map((id) => ({ id })), intervalS });
        const events = backupEvents(foldLog(backupEventsAnalyzer, site, log), site);
        expect(events.length).toBe(spans.length);
        events.forEach((event, k) => {
          const within = intervalS * 1100;
          expect(event.start - spans[k]!.from).toBeGreaterThanOrEqual(0);
          expect(event.start - spans[k]!.from).toBeLessThanOrEqual(within);
          expect(event.end! - spans[k]!.to).toBeGreaterThanOrEqual(0);
          expect(event.end! - spans[k]!.to).toBeLessThanOrEqual(within);
          expect(event.start - event.startUncertaintyS * 1000).toBeLessThanOrEqual(spans[k]!.from);
          expect(event.held).toBe(true);
        });
        expect(findingsOf(excursions, site, log)).toEqual([]);
        expect(findingsOf(outputLost, site, log)).toEqual([]);
      }),
      { numRuns: 12 },
    );
  }, 30_000);

  test('over gaps of the whole site, every event is of an outage, and every outage that was seen is an event', () => {
    fc.assert(
      fc.property(fleet, ({ intervalS, offsets, outages, gaps }) => {
        const spans = spansOf(outages);
        const silent = spansOf(gaps);
        const ids = offsets.map((_, k) => `u${k + 1}`);
        const log = ids.flatMap((id, k) => readings(id, intervalS, offsets[k]!, spans, silent));
        const site = siteOf({ units: ids.map((id) => ({ id })), intervalS });
        const events = backupEvents(foldLog(backupEventsAnalyzer, site, log), site);
        for (const { start, end } of events) {
          // One event may join two outages with only silence between them.
          expect(spans.some(({ from, to }) => start >= from && start < to)).toBe(true);
          const before = log.filter(({ t, mode }) => mode === 'grid' && t > start && t < end!);
          expect(before.every(({ t }) => end! - t <= intervalS * 1100)).toBe(true);
        }
        for (const { from, to } of spans) {
          const seenBy = ids.filter((id) => log.some((line) => line.unit === id && line.t >= from && line.t < to));
          if (seenBy.length < ids.length) continue;
          expect(events.some(({ start, end }) => start < to && end! > from)).toBe(true);
        }
      }),
      { numRuns: 12 },
    );
  }, 30_000);
});
