/** What a site draws, second by second: appliances that switch, by the hours of its trade. */
import { HOUR_MS } from '../vocabulary/time.ts';
import type { Prng } from './prng.ts';
import type { SiteKind } from './site-plan.ts';

export const DAY_S = 86_400;

/** Local time is one hour ahead of UTC all year: the demo knows no summer time. */
export const LOCAL_AHEAD_MS = HOUR_MS;

/** Load of one phase on one UTC day. */
export interface DayLoad {
  /** Active power in each second, W. */
  readonly activeW: Float32Array;
  /** Reactive power in each second, var; + = inductive. */
  readonly reactiveVar: Float32Array;
}

/** Something that is on for a while, then off: times in minutes, power as a share of the rating. */
interface Appliance {
  readonly share: number;
  readonly onMin: readonly [number, number];
  readonly offMin: readonly [number, number];
  /** var per W. */
  readonly reactive: number;
  readonly when: 'always' | 'open';
}

interface Trade {
  /** Local hours of work, half open; may be two shifts. */
  readonly open: readonly (readonly [number, number])[];
  /** Local hours at weekends. */
  readonly weekend: readonly (readonly [number, number])[];
  readonly lightShare: number;
  readonly appliances: readonly Appliance[];
}

const FRIDGE: Appliance = { share: 0.035, onMin: [12, 20], offMin: [22, 38], reactive: 0.5, when: 'always' };
const COLD_ROOM: Appliance = { share: 0.1, onMin: [9, 20], offMin: [14, 30], reactive: 0.6, when: 'always' };
const KETTLE: Appliance = { share: 0.13, onMin: [2, 4], offMin: [15, 60], reactive: 0, when: 'open' };
const PUMP: Appliance = { share: 0.09, onMin: [3, 12], offMin: [8, 30], reactive: 0.75, when: 'open' };
const HEATER: Appliance = { share: 0.11, onMin: [3, 9], offMin: [3, 9], reactive: 0, when: 'open' };
const OVEN: Appliance = { share: 0.15, onMin: [4, 12], offMin: [3, 10], reactive: 0, when: 'open' };
const MOTOR: Appliance = { share: 0.12, onMin: [1, 8], offMin: [2, 9], reactive: 0.8, when: 'open' };

const TRADES: Readonly<Record<SiteKind, Trade>> = {
  clinic: {
    open: [[7, 19]],
    weekend: [[8, 14]],
    lightShare: 0.07,
    appliances: [FRIDGE, FRIDGE, KETTLE, HEATER, HEATER, HEATER, PUMP],
  },
  bakery: {
    open: [[2, 12]],
    weekend: [[2, 10]],
    lightShare: 0.05,
    appliances: [COLD_ROOM, OVEN, OVEN, HEATER, MOTOR, KETTLE],
  },
  school: {
    open: [[7, 17]],
    weekend: [[9, 14]],
    lightShare: 0.09,
    appliances: [FRIDGE, HEATER, HEATER, HEATER, KETTLE, PUMP],
  },
  farm: {
    open: [
      [5, 9],
      [16, 21],
    ],
    weekend: [
      [5, 9],
      [16, 21],
    ],
    lightShare: 0.05,
    appliances: [COLD_ROOM, MOTOR, PUMP, PUMP, HEATER, HEATER],
  },
  shop: {
    open: [[8, 20]],
    weekend: [[9, 18]],
    lightShare: 0.08,
    appliances: [COLD_ROOM, COLD_ROOM, FRIDGE, HEATER, HEATER, KETTLE],
  },
  workshop: {
    open: [[7, 17]],
    weekend: [[8, 13]],
    lightShare: 0.06,
    appliances: [MOTOR, MOTOR, HEATER, HEATER, PUMP, KETTLE],
  },
};

const BASE_SHARE = 0.05;

/** A new machine that the fault plan puts in: long enough on to be met by any outage in working hours. */
const OVERLOAD: Omit<Appliance, 'share'> = { onMin: [3, 6], offMin: [2, 5], reactive: 0.3, when: 'open' };

/** Working hours of a trade on a UTC day, as seconds of that day. */
export function openSpans(kind: SiteKind, day: number): [number, number][] {
  const weekday = new Date(day + LOCAL_AHEAD_MS).getUTCDay();
  const trade = TRADES[kind];
  const spans = weekday === 0 || weekday === 6 ? trade.weekend : trade.open;
  const aheadS = LOCAL_AHEAD_MS / 1000;
  return spans.map(([from, to]) => [Math.max(0, from * 3600 - aheadS), Math.min(DAY_S, to * 3600 - aheadS)]);
}

/** Adds a step up at one second and down at another to arrays of differences. */
function addSpan(up: Float64Array, from: number, to: number, amount: number): void {
  const a = Math.max(0, Math.round(from));
  const b = Math.min(DAY_S, Math.round(to));
  if (b <= a) return;
  up[a]! += amount;
  up[b]! -= amount;
}

/** Differences per second; kept between days so that no day allocates them anew. */
const activeSteps = new Float64Array(DAY_S + 1);
const reactiveSteps = new Float64Array(DAY_S + 1);

function runAppliance(prng: Prng, appliance: Appliance, watts: number, from: number, to: number): void {
  let t = from - prng.uniform() * 60 * appliance.offMin[1];
  while (t < to) {
    const on = 60 * prng.between(appliance.onMin[0], appliance.onMin[1]);
    const power = watts * (1 + 0.08 * prng.normal());
    if (t + on > from) {
      addSpan(activeSteps, Math.max(from, t), Math.min(to, t + on), power);
      addSpan(reactiveSteps, Math.max(from, t), Math.min(to, t + on), power * appliance.reactive);
    }
    t += on + 60 * prng.between(appliance.offMin[0], appliance.offMin[1]);
  }
}

/**
 * Fills a day's load of one phase.
 *
 * @param ratedW         rating of the units on this phase together
 * @param overloadShare  power of the added machine as a share of the rating; 0 = none
 */
export function fillDayLoad(
  load: DayLoad,
  prng: Prng,
  kind: SiteKind,
  ratedW: number,
  day: number,
  overloadShare: number,
): void {
  activeSteps.fill(0);
  reactiveSteps.fill(0);
  const trade = TRADES[kind];
  const open = openSpans(kind, day);
  // The same trade is busier on some days than on others.
  const busy = 1 + 0.1 * prng.normal();
  addSpan(activeSteps, 0, DAY_S, ratedW * BASE_SHARE * (1 + 0.05 * prng.normal()));
  addSpan(reactiveSteps, 0, DAY_S, ratedW * BASE_SHARE * 0.3);
  for (const [from, to] of open) {
    addSpan(activeSteps, from - 900 * prng.uniform(), to + 900 * prng.uniform(), ratedW * trade.lightShare);
    for (const appliance of trade.appliances) {
      if (appliance.when === 'open') runAppliance(prng, appliance, ratedW * appliance.share * busy, from, to);
    }
    if (overloadShare > 0) runAppliance(prng, { ...OVERLOAD, share: overloadShare }, ratedW * overloadShare, from, to);
  }
  for (const appliance of trade.appliances) {
    if (appliance.when === 'always') runAppliance(prng, appliance, ratedW * appliance.share, 0, DAY_S);
  }
  let active = 0;
  let reactive = 0;
  for (let s = 0; s < DAY_S; s++) {
    active += activeSteps[s]!;
    reactive += reactiveSteps[s]!;
    load.activeW[s] = active;
    load.reactiveVar[s] = reactive;
  }
}

export function createDayLoad(): DayLoad {
  return { activeW: new Float32Array(DAY_S), reactiveVar: new Float32Array(DAY_S) };
}
