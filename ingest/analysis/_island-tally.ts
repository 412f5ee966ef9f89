/** Energy, peak and extremes of a grid loss, and the excursions out of the site's band. */
import { phaseGroups } from '../site/history.ts';
import type { SiteRecord } from '../site/record.ts';
import { HOUR_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { takeHunt } from './_hunt.ts';
import type { Direction, Excursion, IslandEvent, Rate, Surroundings, Tally } from './_island-event.ts';
import type { Dated, IslandState } from './_island-state.ts';
import { energyGapMs, freshMs } from './_patience.ts';
import { MODE, OUTPUT_GONE, type UnitNow } from './_unit-now.ts';

/** Out of both edges within this time is one condition, an oscillation. */
const ONE_EXCURSION_MS = 5 * MINUTE_MS;
/** A unit's power moved, as a share of its rating. */
const SWING = 0.03;
/** Units read within this part of an interval of each other, or a second, are read together. */
const READ_TOGETHER_PART = 0.1;
/** Half of a memory of steps is gone after this. */
const STEP_MEMORY_MS = 3 * MINUTE_MS;
/** Rounding on the wire must not put a value on the edge outside. */
const EDGE = 1e-6;

/**
 * Trapezoid between a unit's last two powers inside the event, nothing over a gap.
 *
 * @param before  the unit's power before this instant
 */
export function addEnergy(event: IslandEvent, unit: UnitNow, before: Dated | null, record: SiteRecord): void {
  if (unit.powerW === null || unit.powerT === null || before === null) return;
  const dtMs = unit.powerT - before.t;
  if (dtMs <= 0 || before.t < event.start || dtMs > energyGapMs(record)) return;
  const energyWh = (((unit.powerW + before.value) / 2) * dtMs) / HOUR_MS;
  event.tally.energyWh[unit.id] = (event.tally.energyWh[unit.id] ?? 0) + energyWh;
}

function sumOf(values: readonly (number | null)[]): number | null {
  return values.reduce((a, b) => (a === null ? b : b === null ? a : a + b), null);
}

const lesser = (a: number | null, b: number): number => (a === null || b < a ? b : a);
const greater = (a: number | null, b: number): number => (a === null || b > a ? b : a);

/** Units on their own whose values count: off the grid, running, heard since the start and lately. */
function running(unit: UnitNow): boolean {
  return unit.place === 'off' && (unit.mode === MODE.backup || unit.mode === null);
}

/**
 * Greatest load over rating: of any unit that spoke at this very instant, and of any phase group as it was last
 * heard. The rest of a group may not have been read since the load stepped, so one unit's own word counts too.
 */
function loadShareMax(heard: readonly UnitNow[], record: SiteRecord, t: number): number | null {
  let most: number | null = null;
  for (const group of phaseGroups(record).values()) {
    let groupW = 0;
    let ratedW = 0;
    for (const unit of group) {
      const now = heard.find(({ id }) => id === unit.id);
      if (now === undefined || now.powerW === null) continue;
      groupW += now.powerW;
      ratedW += unit.rated_power_w;
      if (now.powerT === t) most = greater(most, now.powerW / unit.rated_power_w);
    }
    if (ratedW > 0) most = greater(most, groupW / ratedW);
  }
  return most;
}

function surroundings(state: IslandState, event: IslandEvent, record: SiteRecord, t: number): Surroundings {
  const fresh = freshMs(record);
  const heard = state.units.filter((unit) => unit.powerT !== null && t - unit.powerT <= fresh);
  const acPv = Object.values(state.acPvW).filter((dated) => t - dated.t <= fresh);
  return {
    totalPowerW: sumOf(heard.map((unit) => unit.powerW)),
    ratedPowerW: record.units
      .filter((unit) => heard.some(({ id }) => id === unit.id))
      .reduce((sum, unit) => sum + unit.rated_power_w, 0),
    loadPctMax: heard.reduce<number | null>((max, u) => (u.loadPct === null ? max : greater(max, u.loadPct)), null),
    pvPowerW: sumOf(heard.map((unit) => unit.pvW)),
    acPvPowerW: sumOf(acPv.map((dated) => dated.value)),
    dcCurrentA: sumOf(heard.map((unit) => unit.dcCurrentA)),
    socPct: event.tally.socPct,
    loadShareMax: loadShareMax(heard, record, t),
    acCoupledPv: record.ac_coupled_pv,
    huntPart: event.hunt.threshold > 0 ? event.hunt.sum / event.hunt.threshold : 0,
    antiphaseSteps: state.antiphaseSteps,
    commonSteps: state.commonSteps,
  };
}

interface Outside {
  readonly quantity: 'frequency' | 'voltage';
  readonly low: number;
  readonly high: number;
  readonly band: readonly [number, number];
  readonly nominal: number;
  readonly rate: Rate | null;
}

const steeper = (a: Rate | null, b: Rate | null): Rate | null =>
  a === null || (b !== null && Math.abs(b.perS) > Math.abs(a.perS)) ? b : a;

function extend(
  before: Excursion,
  direction: Direction,
  value: number,
  out: Outside,
  t: number,
  now: () => Surroundings,
): Excursion {
  const isFurther = Math.abs(value - out.nominal) > Math.abs(before.value - before.nominal);
  const outsideMs = before.outsideMs + (before.end === null ? t - before.lastOutT : 0);
  const around = now();
  // Hunting shows over many steps, not at the extreme alone: the most that was seen of it counts.
  const mostSteps = around.antiphaseSteps > before.atExtreme.antiphaseSteps ? around : before.atExtreme;
  const { antiphaseSteps, commonSteps } = mostSteps;
  const huntPart = Math.max(around.huntPart, before.atExtreme.huntPart);
  const atExtreme = { ...(isFurther ? around : before.atExtreme), antiphaseSteps, commonSteps, huntPart };
  const rate = steeper(before.rate, out.rate);
  const kept = { ...before, lastOutT: t, end: null, outsideMs, atExtreme, rate };
  if (!isFurther) return kept;
  return { ...kept, direction, value, limit: direction === 'low' ? out.band[0] : out.band[1] };
}

/** Joins one look at frequency or voltage to the event's excursions: opens, extends or ends one. */
function judgeBand(event: IslandEvent, out: Outside, t: number, now: () => Surroundings): void {
  const under = out.low < out.band[0] - EDGE ? out.band[0] - out.low : 0;
  const over = out.high > out.band[1] + EDGE ? out.high - out.band[1] : 0;
  if (under === 0 && over === 0) {
    event.excursions = endExcursions(event.excursions, out.quantity, t);
    return;
  }
  event.tally.left = true;
  const direction: Direction = under >= over ? 'low' : 'high';
  const value = direction === 'low' ? out.low : out.high;
  const own = event.excursions.filter((e) => e.quantity === out.quantity);
  const found = own.find((e) => e.direction === direction) ?? own.find((e) => t - e.lastOutT <= ONE_EXCURSION_MS);
  if (found !== undefined) {
    const longer = extend(found, direction, value, out, t, now);
    event.excursions = event.excursions.map((e) => (e === found ? longer : e));
    return;
  }
  event.excursions.push({
    quantity: out.quantity,
    direction,
    start: t,
    detectedAt: event.confirmedAt === null ? null : t,
    lastOutT: t,
    end: null,
    value,
    nominal: out.nominal,
    limit: direction === 'low' ? out.band[0] : out.band[1],
    outsideMs: 0,
    atExtreme: now(),
    rate: out.rate,
  });
}

function endExcursions(excursions: Excursion[], quantity: 'frequency' | 'voltage', t: number): Excursion[] {
  if (!excursions.some((e) => e.quantity === quantity && e.end === null)) return excursions;
  return excursions.map((e) =>
    e.quantity === quantity && e.end === null ? { ...e, end: t, outsideMs: e.outsideMs + (t - e.lastOutT) } : e,
  );
}

/** Counts whether a unit's power moved with the others' or against them: hunting is the latter. */
function countSteps(state: IslandState, record: SiteRecord, t: number, moved: readonly UnitNow[]): void {
  const faded = state.lastT === null ? 0 : 0.5 ** ((t - state.lastT) / STEP_MEMORY_MS);
  // Units read at other times may have met another load: only those read together tell.
  const togetherMs = Math.max(SECOND_MS, READ_TOGETHER_PART * record.sample_interval_s * SECOND_MS);
  state.antiphaseSteps *= faded;
  state.commonSteps *= faded;
  for (const unit of moved) {
    if (unit.powerT !== t || Math.abs(unit.swing) < SWING) continue;
    const isAgainst = state.units.some(
      (other) =>
        other.id !== unit.id &&
        Math.abs(other.swing) >= SWING &&
        other.swing * unit.swing < 0 &&
        other.powerT !== null &&
        t - other.powerT <= togetherMs,
    );
    if (isAgainst) state.antiphaseSteps += 1;
    else state.commonSteps += 1;
  }
}

/** The steepest of the moved units at t. */
function rateNow(
  moved: readonly UnitNow[],
  of: (unit: UnitNow) => (Rate & { readonly t: number }) | null,
  t: number,
): Rate | null {
  return moved.reduce<Rate | null>((most, unit) => {
    const rate = of(unit);
    return rate === null || rate.t !== t || !running(unit)
      ? most
      : steeper(most, { perS: rate.perS, windowS: rate.windowS });
  }, null);
}

/** Takes the running units' readings of this instant into the test for hunting. */
function watchHunt(
  state: IslandState,
  event: IslandEvent,
  record: SiteRecord,
  moved: readonly UnitNow[],
  t: number,
): void {
  const readings = moved.filter(running).flatMap((unit) => {
    const hz = unit.frequencyT === t ? unit.frequencyHz : null;
    const w = unit.powerT === t ? unit.powerW : null;
    const isLost =
      unit.voltageLowV !== null && unit.voltageLowV < OUTPUT_GONE * record.supply.nominal_voltage_v * unit.scale;
    if (isLost || (hz === null && w === null)) return [];
    const ratedW = record.units.find(({ id }) => id === unit.id)?.rated_power_w ?? Number.POSITIVE_INFINITY;
    return [{ id: unit.id, hz, w, ratedW }];
  });
  if (readings.length > 0 && record.units.length > 1)
    event.hunt = takeHunt(event.hunt, state.huntBaseline, readings, record, t);
}

/** Lowest and highest frequency that a running unit read at this very instant, or null. */
function frequencyNow(moved: readonly UnitNow[], record: SiteRecord, t: number): [number, number] | null {
  let low: number | null = null;
  let high: number | null = null;
  for (const unit of moved) {
    if (!running(unit) || unit.frequencyHz === null || unit.frequencyT !== t) continue;
    if (unit.voltageLowV !== null && unit.voltageLowV < OUTPUT_GONE * record.supply.nominal_voltage_v * unit.scale) {
      continue;
    }
    low = lesser(low, unit.frequencyHz);
    high = greater(high, unit.frequencyHz);
  }
  return low === null || high === null ? null : [low, high];
}

/**
 * Lowest and highest voltage of the phase groups at t, each in volts of the record's nominal: in a group
 * the highest of its running units, because units on one bus have one voltage and one that has dropped
 * out reads less.
 */
function voltageNow(
  state: IslandState,
  event: IslandEvent,
  record: SiteRecord,
  t: number,
  moved: readonly UnitNow[],
): [number, number] | null {
  const fresh = freshMs(record);
  if (!moved.some((unit) => running(unit) && unit.voltageT === t)) return null;
  let low: number | null = null;
  let high: number | null = null;
  for (const group of phaseGroups(record).values()) {
    let busLow: number | null = null;
    let busHigh: number | null = null;
    for (const { id } of group) {
      const unit = state.units.find((u) => u.id === id);
      if (unit === undefined || !running(unit) || unit.voltageLowV === null || unit.voltageHighV === null) continue;
      if (unit.voltageT === null || unit.voltageT < event.start || t - unit.voltageT > fresh) continue;
      busLow = greater(busLow, unit.voltageLowV / unit.scale);
      busHigh = greater(busHigh, unit.voltageHighV / unit.scale);
    }
    if (busLow === null || busHigh === null || busLow < OUTPUT_GONE * record.supply.nominal_voltage_v) continue;
    low = lesser(low, busLow);
    high = greater(high, busHigh);
  }
  return low === null || high === null ? null : [low, high];
}

/** Extremes of what the running units read, as they read it; a lost output is none. */
function addVoltages(tally: Tally, record: SiteRecord, t: number, moved: readonly UnitNow[]): void {
  for (const unit of moved) {
    if (!running(unit) || unit.voltageT !== t || unit.voltageLowV === null || unit.voltageHighV === null) continue;
    if (unit.voltageLowV < OUTPUT_GONE * record.supply.nominal_voltage_v * unit.scale) continue;
    tally.voltageMinV = lesser(tally.voltageMinV, unit.voltageLowV);
    tally.voltageMaxV = greater(tally.voltageMaxV, unit.voltageHighV);
  }
}

/** Takes what is known at t into the event: peak, extremes, excursions. */
export function addExtremes(
  state: IslandState,
  event: IslandEvent,
  record: SiteRecord,
  t: number,
  moved: readonly UnitNow[],
): void {
  const tally = event.tally;
  countSteps(state, record, t, moved);
  watchHunt(state, event, record, moved, t);
  const now = (): Surroundings => surroundings(state, event, record, t);
  const fresh = freshMs(record);
  const inside = state.units.filter(
    (u) =>
      // One that never says where it is counts with the others: its energy does.
      (u.place === 'off' || u.place === 'generator' || u.place === null) &&
      u.powerT !== null &&
      u.powerT >= event.start &&
      t - u.powerT <= fresh,
  );
  const powerW = sumOf(inside.map((unit) => unit.powerW));
  if (powerW !== null) tally.peakW = greater(tally.peakW, powerW);
  if (state.loss !== null) {
    tally.left = true;
    event.excursions = endExcursions(endExcursions(event.excursions, 'frequency', t), 'voltage', t);
  }
  addVoltages(tally, record, t, moved);
  const hertz = frequencyNow(moved, record, t);
  if (hertz !== null) {
    tally.frequencyMinHz = lesser(tally.frequencyMinHz, hertz[0]);
    tally.frequencyMaxHz = greater(tally.frequencyMaxHz, hertz[1]);
    const nominal = record.supply.nominal_frequency_hz;
    const rate = rateNow(moved, (unit) => unit.frequencyRate, t);
    judgeBand(
      event,
      { quantity: 'frequency', low: hertz[0], high: hertz[1], band: record.island_frequency_band_hz, nominal, rate },
      t,
      now,
    );
  }
  const volts = voltageNow(state, event, record, t, moved);
  if (volts !== null) {
    const nominal = record.supply.nominal_voltage_v;
    const [lowPct, highPct] = record.island_voltage_band_pct;
    const rate = rateNow(moved, (unit) => unit.voltageRate, t);
    const band = [nominal * (1 + lowPct / 100), nominal * (1 + highPct / 100)] as const;
    judgeBand(event, { quantity: 'voltage', low: volts[0], high: volts[1], band, nominal, rate }, t, now);
  }
}
