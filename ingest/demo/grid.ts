/** The public grid as a site sees it: voltage, frequency, and when it is gone. */
import { DAY_MS, type EpochMs, epochMs, HOUR_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { openSpans } from './load.ts';
import type { Prng } from './prng.ts';
import type { Period, SitePlan } from './site-plan.ts';

/** One time on backup. The units leave at `start` plus their offset and return together at `end`. */
export interface Outage {
  readonly start: EpochMs;
  /** The grid's voltage is back; the set waits until `end`. */
  readonly gridBack: EpochMs;
  readonly end: EpochMs;
  readonly occasion: 'grid_loss' | 'test';
  /** How long after `start` each unit's mode changes, ms, under one second; one of them 0. */
  readonly offsetsMs: readonly number[];
}

/** A sag that the set rides through on the grid. */
export interface Brownout {
  readonly start: EpochMs;
  readonly end: EpochMs;
  readonly voltageV: number;
}

const NIGHT_BEFORE_MS = 6 * HOUR_MS;

function outage(prng: Prng, plan: SitePlan, start: number, lengthMs: number, occasion: Outage['occasion']): Outage {
  const gridBack = Math.round((start + lengthMs) / SECOND_MS) * SECOND_MS;
  const end = gridBack + prng.whole(60, 300) * SECOND_MS;
  const first = prng.whole(0, plan.units.length - 1);
  const offsetsMs = plan.units.map((_, i) => (i === first ? 0 : prng.whole(5, 900)));
  return { start: epochMs(Math.round(start)), gridBack: epochMs(gridBack), end: epochMs(end), occasion, offsetsMs };
}

/** 40 s to `longestMs`: a third are blinks, a third minutes, a third hours. */
function lengthMs(prng: Prng, longestMs: number): number {
  const kind = prng.uniform();
  if (kind < 0.3) return prng.between(40 * SECOND_MS, 3 * MINUTE_MS);
  if (kind < 0.7) return Math.min(longestMs, prng.between(4 * MINUTE_MS, 40 * MINUTE_MS));
  return prng.between(Math.min(longestMs, 40 * MINUTE_MS), longestMs);
}

/** The longest outage that the battery carries with something to spare: the demo's healthy sites never run dry. */
export function longestOutageMs(plan: SitePlan): number {
  const storedWh = plan.packs.reduce((sum, pack) => sum + pack.capacityAh * 51.2, 0);
  const ratedW = plan.units.reduce((sum, unit) => sum + unit.ratedPowerW, 0);
  const usable = plan.duty === 'evening' ? 0.3 : 0.65;
  return Math.min(4 * HOUR_MS, ((usable * storedWh) / (0.42 * ratedW)) * HOUR_MS);
}

/** Outages that the site's faults need in order to show: in working hours, long enough to meet the load. */
function forcedOutages(prng: Prng, plan: SitePlan, period: Period): Outage[] {
  return plan.faults.flatMap((fault) => {
    if (fault.what === 'router_down')
      return [outage(prng, plan, fault.start - 10 * MINUTE_MS, 3 * HOUR_MS, 'grid_loss')];
    if (fault.what !== 'overload' && fault.what !== 'weak_voltage') return [];
    const firstDay = Math.floor(fault.start / DAY_MS) * DAY_MS + DAY_MS;
    return [0, 4, 9].flatMap((later) => {
      const day = firstDay + later * DAY_MS;
      const [from, to] = openSpans(plan.kind, day)[0]!;
      const start = day + (from + (to - from) * prng.between(0.25, 0.6)) * SECOND_MS;
      return start + HOUR_MS < period.to
        ? [outage(prng, plan, start, prng.between(14, 26) * MINUTE_MS, 'grid_loss')]
        : [];
    });
  });
}

/** 3 to 8 outages in 60 days, in proportion for other periods, never two within six hours; in order. */
export function planOutages(prng: Prng, plan: SitePlan, period: Period): Outage[] {
  const days = (period.to - period.from) / DAY_MS;
  const outages = forcedOutages(prng, plan, period);
  if (plan.testAt !== null) outages.push(outage(prng, plan, plan.testAt, 10 * MINUTE_MS, 'test'));
  const wanted = Math.max(days >= 1 ? 1 : 0, Math.round((prng.whole(3, 8) * days) / 60));
  const longest = longestOutageMs(plan);
  const quiet = quietTimes(plan);
  for (let tries = 0, made = 0; made < wanted && tries < 200; tries++) {
    const start = period.from + prng.uniform() * Math.max(0, period.to - period.from - 6 * HOUR_MS) + 20 * MINUTE_MS;
    const length = lengthMs(prng, longest);
    const end = start + length + 5 * MINUTE_MS;
    const isClear = [...outages, ...quiet].every(
      (o) => end + NIGHT_BEFORE_MS < o.start || start > o.end + NIGHT_BEFORE_MS,
    );
    if (!isClear || end > period.to - 10 * MINUTE_MS) continue;
    outages.push(outage(prng, plan, start, length, 'grid_loss'));
    made++;
  }
  return outages.sort((a, b) => a.start - b.start);
}

/** Times in which no outage is drawn, so that each story stays readable. */
function quietTimes(plan: SitePlan): { start: number; end: number }[] {
  const times: { start: number; end: number }[] = [];
  if (plan.firmware !== null) times.push({ start: plan.firmware.at, end: plan.firmware.at + HOUR_MS });
  if (plan.replacement !== null) times.push({ start: plan.replacement.at, end: plan.replacement.at + HOUR_MS });
  for (const fault of plan.faults) {
    if (fault.end !== null) times.push({ start: fault.start, end: fault.end });
  }
  return times;
}

/** A brownout of three minutes, clear of every outage, or null where the plan has none. */
export function planBrownout(prng: Prng, plan: SitePlan, period: Period, outages: readonly Outage[]): Brownout | null {
  if (!plan.brownout) return null;
  for (let tries = 0; tries < 100; tries++) {
    const start = Math.round(period.from + prng.between(0.2, 0.9) * (period.to - period.from));
    const end = start + 3 * MINUTE_MS;
    if (outages.every((o) => end + HOUR_MS < o.start || start > o.end + HOUR_MS)) {
      return { start: epochMs(start), end: epochMs(end), voltageV: prng.between(184, 196) };
    }
  }
  return null;
}

/** Voltage and frequency of the grid, moved on tick by tick. */
export interface GridState {
  voltageV: number;
  frequencyHz: number;
  readonly meanV: number;
}

export function createGridState(prng: Prng): GridState {
  const meanV = prng.between(229, 234);
  return { voltageV: meanV, frequencyHz: 50, meanV };
}

/** Ornstein–Uhlenbeck: exact for any step, so that ticks of 10 s and 60 s make the same grid. */
function pull(value: number, mean: number, sd: number, tauS: number, dtS: number, normal: number): number {
  const keep = Math.exp(-dtS / tauS);
  return mean + (value - mean) * keep + sd * Math.sqrt(1 - keep * keep) * normal;
}

export function stepGrid(grid: GridState, prng: Prng, dtS: number): void {
  const voltage = pull(grid.voltageV, grid.meanV, 1.7, 1800, dtS, prng.normal());
  grid.voltageV = Math.min(238, Math.max(225, voltage));
  grid.frequencyHz = pull(grid.frequencyHz, 50, 0.02, 300, dtS, prng.normal());
}
