import { describe, expect, test } from 'vitest';
import { planFleet } from '../../../../ingest/demo/fleet.ts';
import { restoreRun, saveRun } from '../../../../ingest/demo/live/run-state.ts';
import { StartedFaults, subjectOf } from '../../../../ingest/demo/live/started-faults.ts';
import { createSink } from '../../../../ingest/demo/log-lines.ts';
import { beginSiteDay, createSiteRun, runTick, simulateDay } from '../../../../ingest/demo/simulate-site.ts';
import { DAY_MS, epochMs, HOUR_MS, MINUTE_MS } from '../../../../ingest/vocabulary/time.ts';

const FROM = epochMs(Date.UTC(2026, 2, 2));
const period = { from: FROM, to: epochMs(FROM + 10 * DAY_MS), everyMs: 60_000, eventEveryMs: 10_000 };
const make = () => {
  const planned = planFleet({ seed: 3, period, sites: 1 })[0]!;
  const faults = [...planned.faults];
  const plan = { ...planned, faults };
  const run = createSiteRun(plan, period, 3, 'ndjson');
  return { run, faults, plan };
};

function live(run: ReturnType<typeof make>['run'], day: number, from: number, to: number): string {
  const sink = createSink();
  for (let at = from; at < to; at += MINUTE_MS) runTick(run, day, at, MINUTE_MS, [sink]);
  return new TextDecoder().decode(sink.bytes.subarray(0, sink.length));
}

describe('saveRun', () => {
  test('a site that goes on from what was saved lives the same day on, to the byte', () => {
    const { run } = make();
    simulateDay(run, FROM);
    const day = FROM + DAY_MS;
    const noon = day + 12 * HOUR_MS;
    beginSiteDay(run, day);
    live(run, day, day, noon);
    const bytes = saveRun(run, noon);
    const lived = live(run, day, noon, noon + HOUR_MS);
    const other = make().run;
    expect(restoreRun(other, bytes)).toBe(noon);
    expect(live(other, day, noon, noon + HOUR_MS)).toBe(lived);
    expect(lived.length).toBeGreaterThan(10_000);
    // The next day begins alike as well.
    live(run, day, noon + HOUR_MS, day + DAY_MS);
    live(other, day, noon + HOUR_MS, day + DAY_MS);
    const textOf = (one: typeof run) => new TextDecoder().decode(simulateDay(one, day + DAY_MS)[0]!.bytes);
    expect(textOf(other)).toBe(textOf(run));
  });

  test('bytes that are no such state, or of another site, are not taken', () => {
    const { run } = make();
    expect(restoreRun(run, new Uint8Array([1, 2, 3]))).toBeNull();
    const larger = createSiteRun(planFleet({ seed: 3, period, sites: 6 })[5]!, period, 3, 'ndjson');
    beginSiteDay(larger, FROM);
    expect(restoreRun(run, saveRun(larger, FROM + HOUR_MS))).toBeNull();
  });
});

describe('StartedFaults', () => {
  const at = FROM + 12 * HOUR_MS;

  test('a fault holds from when it was started until it is ended, and not twice at once', () => {
    const { run, faults, plan } = make();
    const started = new StartedFaults(run.state, faults);
    expect(started.start('loose_terminal', at, null)).toMatchObject({
      subject: subjectOf(plan, 'loose_terminal'),
      start: at,
    });
    expect(started.start('loose_terminal', at + 1000, null)).toBeNull();
    beginSiteDay(run, FROM);
    const addedAt = (t: number): number => {
      live(run, FROM, t, t + MINUTE_MS);
      return run.state.effects.addedOhm[1]!;
    };
    expect(addedAt(at - MINUTE_MS)).toBe(0);
    expect(addedAt(at)).toBeCloseTo(0.03, 6);
    expect(started.clear(at + 10 * MINUTE_MS)).toBe(1);
    expect([addedAt(at + 9 * MINUTE_MS), addedAt(at + 10 * MINUTE_MS)]).toEqual([0.03, 0]);
    expect(started.clear(at + 11 * MINUTE_MS)).toBe(0);
  });

  test('a grid loss is an outage of its length, in which no other begins; ended early the grid is back', () => {
    const { run, faults } = make();
    const started = new StartedFaults(run.state, faults);
    const before = run.state.outages.length;
    const first = started.start('grid_loss', at, 30 * MINUTE_MS)!;
    const own = run.state.outages.find(({ start }) => start === first.start)!;
    expect(own.gridBack - own.start).toBe(30 * MINUTE_MS);
    expect(run.state.outages.length).toBeLessThanOrEqual(before + 1);
    run.state.outagePlace = run.state.outages.indexOf(own);
    expect(started.start('grid_loss', at + 5 * MINUTE_MS, 10 * MINUTE_MS)).toBeNull();
    expect(started.clear(at + 5 * MINUTE_MS)).toBe(1);
    expect(run.state.outages[run.state.outagePlace]).toMatchObject({ gridBack: at + 5 * MINUTE_MS, start: own.start });
  });
});
