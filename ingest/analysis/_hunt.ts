/**
 * Two controllers that fight on a site's own: the bus frequency swings to and fro, reading by reading, and
 * the units' powers in antiphase. Sampled every 10 to 60 s the period itself can't be seen, it folds to any
 * other; but a swing turns at most readings whatever its period, where a load that steps turns at few.
 */
import type { SiteRecord } from '../site/record.ts';
import { SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { END_THRESHOLD } from './_llr-cusum.ts';

/** Both sides of a turn are at least this, Hz: over noise, rounding and what a grid-like frequency moves. */
const TURN_HZ = 0.06;
/** The same of a unit's power as a share of its rating. */
const TURN_SHARE = 0.05;
/** Two readings further apart than this many intervals are not neighbours. */
const BRACKET_INTERVALS = 2.5;
/** Units read within this part of an interval of each other, or a second, are read together. */
const TOGETHER_PART = 0.1;
/** Turns among readings while two controllers fight; with a random phase it is about half. */
const TURNS_HUNTING = 0.4;
/** Turns in a healthy island before anything is learnt of the site, and how many readings that is worth. */
const TURNS_HEALTHY = 0.05;
const PRIOR_READINGS = 60;
/** A site whose loads alone make more turns than this cannot be judged. */
const TURNS_MOST = 0.2;
/** Hours a year that a site spends on its own, for the budget: the most of common practice. */
const ISLAND_HOURS = 300;

/** The last two readings of one unit. */
export interface Swing {
  readonly t: number;
  readonly hz: number | null;
  readonly w: number | null;
  /** Step to the newest reading. */
  readonly stepHz: number | null;
  readonly stepW: number | null;
}

/** Hunting over one grid loss. */
export interface Hunt {
  readonly byUnit: Readonly<Record<string, Swing>>;
  readonly sum: number;
  readonly since: number | null;
  readonly raisedAt: number | null;
  readonly start: number | null;
  readonly end: number | null;
  readonly lastTurnT: number | null;
  readonly level: number;
  /** Readings with neighbours, those that turn, and those whose powers turn against another unit's. */
  readonly readings: number;
  readonly turns: number;
  readonly antiphase: number;
  /** Of the turns of the sum that stands: lowest and highest frequency, Hz; greatest swing of power, W. */
  readonly lowHz: number | null;
  readonly highHz: number | null;
  readonly swingW: number;
  readonly statistic: number;
  readonly threshold: number;
}

/** Turns that a site made in islands without hunting. */
export interface HuntBaseline {
  readonly readings: number;
  readonly turns: number;
}

export const NO_HUNT: Hunt = {
  byUnit: {},
  sum: 0,
  since: null,
  raisedAt: null,
  start: null,
  end: null,
  lastTurnT: null,
  level: 0,
  readings: 0,
  turns: 0,
  antiphase: 0,
  lowHz: null,
  highHz: null,
  swingW: 0,
  statistic: 0,
  threshold: 0,
};

/** One reading of a running unit; values that it did not send are null. */
export interface HuntReading {
  readonly id: string;
  readonly hz: number | null;
  readonly w: number | null;
  readonly ratedW: number;
}

const turned = (before: number | null, step: number | null, least: number): boolean =>
  before !== null && step !== null && before * step < 0 && Math.abs(before) >= least && Math.abs(step) >= least;

const stepOf = (before: number | null, value: number | null): number | null =>
  before === null || value === null ? null : value - before;

/** Whether another unit, read together with this one, moved the other way by about as much at this reading. */
function movedAgainst(hunt: Hunt, id: string, stepW: number, leastW: number, t: number, togetherMs: number): boolean {
  for (const [other, swing] of Object.entries(hunt.byUnit)) {
    if (other === id || swing.stepW === null || t - swing.t > togetherMs) continue;
    if (swing.stepW * stepW < 0 && Math.abs(swing.stepW) >= leastW) return true;
  }
  return false;
}

/** Share of turns in the site's healthy islands, the prior included. */
function healthyTurns({ readings, turns }: HuntBaseline): number {
  const share = (TURNS_HEALTHY * PRIOR_READINGS + turns) / (PRIOR_READINGS + readings);
  return Math.max(TURNS_HEALTHY, Math.min(TURNS_MOST, share));
}

export function huntThreshold(record: SiteRecord): number {
  const steps = (ISLAND_HOURS * 3600) / record.sample_interval_s;
  return llrThreshold(FALSE_ALARMS_A_SITE_YEAR.hunting, steps, 1);
}

interface Look {
  readonly isTurn: boolean;
  readonly isAgainst: boolean;
  readonly stepW: number;
}

function takeTurn(
  hunt: Hunt,
  baseline: HuntBaseline,
  record: SiteRecord,
  look: Look,
  hz: number | null,
  t: number,
): Hunt {
  const usual = healthyTurns(baseline);
  // Units on one bus see the same load steps: n of them are worth √n, not n.
  const weight = 1 / Math.sqrt(record.units.length);
  const step = weight * (look.isTurn ? Math.log(TURNS_HUNTING / usual) : Math.log((1 - TURNS_HUNTING) / (1 - usual)));
  const sum = Math.max(0, hunt.sum + step);
  const begins = hunt.sum === 0 && sum > 0;
  const isLoose = sum === 0 || begins;
  const threshold = huntThreshold(record);
  const next: Hunt = {
    ...hunt,
    sum,
    since: sum === 0 ? null : begins ? t : hunt.since,
    lastTurnT: look.isTurn ? t : hunt.lastTurnT,
    readings: hunt.readings + 1,
    turns: hunt.turns + (look.isTurn ? 1 : 0),
    antiphase: hunt.antiphase + (look.isAgainst ? 1 : 0),
    lowHz: hz === null ? hunt.lowHz : isLoose ? hz : Math.min(hunt.lowHz ?? hz, hz),
    highHz: hz === null ? hunt.highHz : isLoose ? hz : Math.max(hunt.highHz ?? hz, hz),
    swingW: Math.max(isLoose ? 0 : hunt.swingW, look.isTurn ? Math.abs(look.stepW) : 0),
    threshold,
  };
  if (next.raisedAt === null)
    return sum < threshold ? next : { ...next, raisedAt: t, start: next.since ?? t, statistic: sum, level: 0 };
  const level = Math.max(0, hunt.level - step);
  if (look.isTurn) return { ...next, level, end: level >= END_THRESHOLD ? next.end : null };
  return { ...next, level, end: level < END_THRESHOLD ? next.end : (next.end ?? next.lastTurnT ?? t) };
}

/** Takes what the running units read at one instant; nothing is written to. */
export function takeHunt(
  before: Hunt,
  baseline: HuntBaseline,
  readings: readonly HuntReading[],
  record: SiteRecord,
  t: number,
): Hunt {
  const intervalMs = record.sample_interval_s * SECOND_MS;
  const togetherMs = Math.max(SECOND_MS, TOGETHER_PART * intervalMs);
  let hunt = before;
  // First all steps, so that units read at one instant see each other.
  const looks = readings.map((reading) => {
    const last = before.byUnit[reading.id];
    const isNear = last !== undefined && t - last.t <= BRACKET_INTERVALS * intervalMs;
    const stepHz = isNear ? stepOf(last.hz, reading.hz) : null;
    const stepW = isNear ? stepOf(last.w, reading.w) : null;
    hunt = { ...hunt, byUnit: { ...hunt.byUnit, [reading.id]: { t, hz: reading.hz, w: reading.w, stepHz, stepW } } };
    return { reading, last: isNear ? last : null, stepHz, stepW };
  });
  for (const { reading, last, stepHz, stepW } of looks) {
    if (last === null || ((stepHz === null || last.stepHz === null) && (stepW === null || last.stepW === null)))
      continue;
    const leastW = TURN_SHARE * reading.ratedW;
    const isAgainst =
      stepW !== null &&
      turned(last.stepW, stepW, leastW) &&
      movedAgainst(hunt, reading.id, stepW, leastW, t, togetherMs);
    const isTurn = turned(last.stepHz, stepHz, TURN_HZ) || isAgainst;
    hunt = takeTurn(hunt, baseline, record, { isTurn, isAgainst, stepW: stepW ?? 0 }, reading.hz, t);
  }
  return hunt;
}

/** Odds that it had stopped before the grid loss was over, from which its last turn is its end. */
const STOPPED = Math.log(20);

/** What is kept of a grid loss that ended at t. */
export function endHunt(hunt: Hunt, t: number): Hunt {
  if (hunt.raisedAt === null) return { ...hunt, byUnit: {}, end: null };
  const stoppedT = hunt.level >= STOPPED ? hunt.lastTurnT : null;
  return { ...hunt, byUnit: {}, end: Math.max(hunt.raisedAt, hunt.end ?? stoppedT ?? t) };
}

/** What a grid loss that is over teaches of the site: nothing where it hunted, or may have. */
export function learnTurns(baseline: HuntBaseline, hunt: Hunt): HuntBaseline {
  if (hunt.raisedAt !== null || hunt.turns > TURNS_MOST * hunt.readings) return baseline;
  return { readings: baseline.readings + hunt.readings, turns: baseline.turns + hunt.turns };
}
