/** Everything that moves while a site is simulated. Arrays go by the places of units and packs in the plan. */
import { DAY_MS } from '../vocabulary/time.ts';
import { type Bank, createBank } from './battery.ts';
import { createEffects, type Effects } from './faults.ts';
import { type Brownout, createGridState, type GridState, type Outage, planBrownout, planOutages } from './grid.ts';
import { createDayLoad, type DayLoad } from './load.ts';
import { createNoise, createPrng, type NoiseWalk, type Prng } from './prng.ts';
import { createNode, type Node } from './sharing.ts';
import type { Period, SitePlan } from './site-plan.ts';
import { createWeather, type Weather } from './weather.ts';

/** What the site is at one instant, as `evaluate` leaves it. */
interface Instant {
  /** false: on its own. */
  onGrid: boolean;
  /** The output is dead: tripped or run dry. */
  isLost: boolean;
  gridVoltageV: number;
  frequencyHz: number;
  readonly nodeV: Float64Array;
  readonly activeW: Float64Array;
  readonly reactiveVar: Float64Array;
  readonly voltageV: Float64Array;
  readonly unitGridV: Float64Array;
  readonly gridW: Float64Array;
  readonly dcW: Float64Array;
  readonly pvW: Float64Array;
  acPvW: number;
}

/** What went out of the site's band in one outage. Times in ms; NaN where it never did. */
export interface OutageTruth {
  readonly outage: Outage;
  lostS: number;
  lostFrom: number;
  lostTo: number;
  frequencyFrom: number;
  frequencyTo: number;
  frequencyMinHz: number;
  voltageFrom: number;
  voltageTo: number;
  voltageMinV: number;
}

/** An overload trip: output dead in [from, to). */
interface Trip {
  from: number;
  to: number;
  /** Seconds of overload so far. */
  overS: number;
  count: number;
}

export interface SiteState {
  readonly plan: SitePlan;
  readonly period: Period;
  readonly unitIds: readonly string[];
  readonly packIds: readonly string[];
  /** Places of the units of each phase, one list a phase. */
  readonly groups: readonly (readonly number[])[];
  readonly groupRatedW: readonly number[];
  readonly ratedW: Float64Array;
  readonly siteRatedW: number;
  readonly loads: readonly DayLoad[];
  readonly meanLoadW: Float64Array;
  readonly meanLoadVar: Float64Array;
  readonly pointLoadW: Float64Array;
  readonly pointLoadVar: Float64Array;
  readonly node: Node;
  /** Cable and contact up to the unit's measuring point, Ω. */
  readonly inputOhm: Float64Array;
  /** From there to the common output, Ω. */
  readonly outputOhm: Float64Array;
  readonly contactOhm: Float64Array;
  readonly droopOhm: Float64Array;
  /** How far each unit's voltage setpoint is off by its calibration, V. */
  readonly calibrationV: Float64Array;
  readonly ceilingW: Float64Array;
  readonly swapping: Uint8Array;
  readonly heatsinkC: Float64Array;
  readonly isHot: Uint8Array;
  readonly pvPeakW: Float64Array;
  /** Gain of each unit's power measurement. */
  readonly gain: Float64Array;
  readonly outputWh: Float64Array;
  readonly importWh: Float64Array;
  readonly pvWh: Float64Array;
  acPvWh: number;
  readonly cycleAh: Float64Array;
  readonly cellSpreadV: Float64Array;
  readonly sensorOffsetA: Float64Array;
  /** Power to or from the battery that the set has settled on while on the grid, W; + = discharging. */
  dcCommandW: number;
  isFull: boolean;
  /** Share of the PV that is let through while on its own. */
  pvFactor: number;
  acPvFactor: number;
  readonly bank: Bank;
  readonly effects: Effects;
  readonly grid: GridState;
  readonly weather: Weather;
  /** In order, none within another. */
  readonly outages: Outage[];
  outagePlace: number;
  readonly brownout: Brownout | null;
  readonly truths: OutageTruth[];
  readonly trip: Trip;
  readonly instant: Instant;
  readonly noise: NoiseWalk;
  readonly loadPrngs: readonly Prng[];
  readonly slowPrng: Prng;
}

/** 2 % of voltage at the rating: what makes the units share on their own. */
const DROOP_SHARE = 0.02;

function createInstant(units: number, groups: number): Instant {
  const perUnit = () => new Float64Array(units);
  return {
    onGrid: true,
    isLost: false,
    gridVoltageV: 230,
    frequencyHz: 50,
    nodeV: new Float64Array(groups).fill(230),
    activeW: perUnit(),
    reactiveVar: perUnit(),
    voltageV: perUnit().fill(230),
    unitGridV: perUnit(),
    gridW: perUnit(),
    dcW: perUnit(),
    pvW: perUnit(),
    acPvW: 0,
  };
}

function createTruth(outage: Outage): OutageTruth {
  return {
    outage,
    lostS: 0,
    lostFrom: Number.NaN,
    lostTo: Number.NaN,
    frequencyFrom: Number.NaN,
    frequencyTo: Number.NaN,
    frequencyMinHz: Infinity,
    voltageFrom: Number.NaN,
    voltageTo: Number.NaN,
    voltageMinV: Infinity,
  };
}

function phaseGroups(plan: SitePlan): number[][] {
  const phases = [...new Set(plan.units.map((unit) => unit.phase))];
  return phases.map((phase) => plan.units.flatMap((unit, i) => (unit.phase === phase ? [i] : [])));
}

/** What belongs to each unit and does not come from the plan: calibration, gains, counters so far. */
function unitArrays(plan: SitePlan, prng: Prng) {
  const n = plan.units.length;
  const draw = (make: () => number) => Float64Array.from({ length: n }, make);
  const wrap = plan.counterWrapWh;
  return {
    ratedW: Float64Array.from(plan.units, (u) => u.ratedPowerW),
    inputOhm: new Float64Array(n),
    outputOhm: new Float64Array(n),
    contactOhm: Float64Array.from(plan.units, (u) => u.contactOhm),
    droopOhm: Float64Array.from(plan.units, (u) => (DROOP_SHARE * 230 * 230) / u.ratedPowerW),
    calibrationV: draw(() => 0.04 * prng.normal()),
    ceilingW: new Float64Array(n).fill(Infinity),
    swapping: new Uint8Array(n),
    heatsinkC: new Float64Array(n).fill(26),
    isHot: new Uint8Array(n),
    pvPeakW: Float64Array.from(plan.units, (u) => plan.pvShare * u.ratedPowerW * prng.between(0.97, 1.03)),
    gain: draw(() => 1 + 0.004 * prng.normal()),
    outputWh: draw(() => (wrap > 0 ? wrap * prng.between(0.9, 0.97) : prng.whole(200_000, 9_000_000))),
    importWh: draw(() => prng.whole(200_000, 9_000_000)),
    pvWh: draw(() => prng.whole(100_000, 4_000_000)),
  };
}

/** A site at the first instant of its period. The same seed gives the same site. */
export function createSiteState(plan: SitePlan, period: Period, seed: number): SiteState {
  const stream = (name: string) => createPrng(seed, `${plan.id} ${name}`);
  const groups = phaseGroups(plan);
  const build = stream('build');
  const arrays = unitArrays(plan, build);
  const outages = planOutages(stream('outages'), plan, period);
  const packCount = plan.packs.length;
  const perGroup = () => new Float64Array(groups.length);
  return {
    plan,
    period,
    unitIds: plan.units.map((unit) => unit.id),
    packIds: plan.packs.map((pack) => pack.id),
    groups,
    groupRatedW: groups.map((members) => members.reduce((sum, i) => sum + arrays.ratedW[i]!, 0)),
    siteRatedW: arrays.ratedW.reduce((sum, w) => sum + w, 0),
    loads: groups.map(createDayLoad),
    meanLoadW: perGroup(),
    meanLoadVar: perGroup(),
    pointLoadW: perGroup(),
    pointLoadVar: perGroup(),
    node: createNode(plan.units.length),
    ...arrays,
    acPvWh: build.whole(100_000, 2_000_000),
    cycleAh: Float64Array.from(plan.packs, (pack) => pack.capacityAh * build.whole(60, 240)),
    cellSpreadV: Float64Array.from(plan.packs, () => build.between(0.003, 0.008)),
    sensorOffsetA: Float64Array.from(plan.packs, () => 0.012 * build.normal()),
    dcCommandW: 0,
    isFull: false,
    pvFactor: 1,
    acPvFactor: 1,
    bank: createBank(plan.packs, 0.9),
    effects: createEffects(plan.units.length, packCount),
    grid: createGridState(build),
    weather: createWeather(),
    outages,
    outagePlace: 0,
    brownout: planBrownout(stream('brownout'), plan, period, outages),
    truths: outages.map(createTruth),
    trip: { from: Infinity, to: -Infinity, overS: 0, count: 0 },
    instant: createInstant(plan.units.length, groups.length),
    noise: createNoise(seed, `${plan.id} noise`),
    loadPrngs: groups.map((_, g) => stream(`load ${g}`)),
    slowPrng: stream('slow'),
  };
}

/** The outage that is on or next, or null after the last. */
export function outageNear(state: SiteState): Outage | null {
  return state.outages[state.outagePlace] ?? null;
}

/** Whether a UTC day sees the site on its own for part of it. */
export function hasOutage(state: SiteState, day: number): boolean {
  return state.outages.some((o) => o.start < day + DAY_MS && o.end > day);
}

/** Puts in an outage that was not planned; planned ones that it would meet do not happen. */
export function addOutage(state: SiteState, outage: Outage): void {
  const isClear = (other: Outage): boolean => other.end < outage.start || other.start > outage.end;
  const kept = state.outages.filter((other, place) => place < state.outagePlace || isClear(other));
  setOutages(
    state,
    [...kept, outage].sort((a, b) => a.start - b.start),
  );
}

/** Another list, the same up to where the site has come. */
export function setOutages(state: SiteState, outages: readonly Outage[]): void {
  state.outages.splice(0, state.outages.length, ...outages);
  state.truths.splice(0, state.truths.length, ...outages.map(createTruth));
}
