/** One grid loss while it runs: who left, what was delivered, how far voltage and frequency went, and when it ends. */
import type { SiteRecord } from '../site/record.ts';
import { MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { type Hunt, NO_HUNT } from './_hunt.ts';
import { freshMs } from './_patience.ts';
import { MODE, type UnitNow } from './_unit-now.ts';

/**
 * The set returns together after one reconnect time (commonly 60–300 s). A unit that is still off this
 * long after the first one came back is kept off by something of its own, and holds the event open no more.
 */
const RETURN_TOGETHER_MS = 10 * MINUTE_MS;

/**
 * Units that left the grid within this time of each other left with it: it covers slow sampling and clocks
 * that are off. One that was off for longer while the others stayed is off by itself.
 */
const LEAVE_TOGETHER_MS = 10 * MINUTE_MS;

export type Direction = 'low' | 'high';

/** Voltage or frequency outside the site's band while on its own. */
export interface Excursion {
  readonly quantity: 'frequency' | 'voltage';
  readonly direction: Direction;
  readonly start: number;
  /** First reading at which it was out and the grid loss was certain; null until then. */
  readonly detectedAt: number | null;
  readonly lastOutT: number;
  readonly end: number | null;
  readonly value: number;
  readonly nominal: number;
  readonly limit: number;
  readonly outsideMs: number;
  readonly atExtreme: Surroundings;
  /** Steepest change between two readings of one unit while it was outside or left the band, unit per second; null where none has neighbours. */
  readonly rate: Rate | null;
}

/** A rate of change and the window over which it was taken. */
export interface Rate {
  readonly perS: number;
  readonly windowS: number;
}

/** What load, battery and PV were doing at an instant; null where not measured. */
export interface Surroundings {
  readonly totalPowerW: number | null;
  readonly ratedPowerW: number;
  readonly loadPctMax: number | null;
  readonly pvPowerW: number | null;
  readonly acPvPowerW: number | null;
  readonly dcCurrentA: number | null;
  readonly socPct: number | null;
  /** Greatest load of any phase group or unit over its rating, each unit at its newest reading; null where not measured. */
  readonly loadShareMax: number | null;
  /** The record says that PV with an inverter of its own feeds the output. */
  readonly acCoupledPv: boolean;
  /** Sum of the test for hunting over its threshold. */
  readonly huntPart: number;
  /** Recent steps in which units' powers moved against each other, and together. */
  readonly antiphaseSteps: number;
  readonly commonSteps: number;
}

/** Sums and extremes over the event so far. */
export interface Tally {
  energyWh: Record<string, number>;
  peakW: number | null;
  frequencyMinHz: number | null;
  frequencyMaxHz: number | null;
  voltageMinV: number | null;
  voltageMaxV: number | null;
  lostMs: number;
  /** The output left the band, or was lost. */
  left: boolean;
  socPct: number | null;
}

export interface IslandEvent {
  readonly start: number;
  readonly lastOnBefore: number | null;
  confirmedAt: number | null;
  members: string[];
  /** First instant at which a unit was back, while others are still off. */
  firstOn: number | null;
  pendingEnd: number | null;
  atReturn: Tally | null;
  end: number | null;
  tally: Tally;
  socStartPct: number | null;
  excursions: Excursion[];
  hunt: Hunt;
}

export function openEvent(start: number, lastOnBefore: number | null, socPct: number | null): IslandEvent {
  const tally: Tally = {
    energyWh: {},
    peakW: null,
    frequencyMinHz: null,
    frequencyMaxHz: null,
    voltageMinV: null,
    voltageMaxV: null,
    lostMs: 0,
    left: false,
    socPct,
  };
  return {
    start,
    lastOnBefore,
    confirmedAt: null,
    members: [],
    firstOn: null,
    pendingEnd: null,
    atReturn: null,
    end: null,
    tally,
    socStartPct: socPct,
    excursions: [],
    hunt: NO_HUNT,
  };
}

export function copyTally(tally: Tally): Tally {
  return { ...tally, energyWh: { ...tally.energyWh } };
}

export function copyEvent(event: IslandEvent): IslandEvent {
  return {
    ...event,
    members: [...event.members],
    atReturn: event.atReturn === null ? null : copyTally(event.atReturn),
    tally: copyTally(event.tally),
    excursions: [...event.excursions],
  };
}

const isOff = (unit: UnitNow): boolean => unit.place === 'off' || unit.place === 'generator';

/** Whether a unit sees the grid and is about to take it up: not standby, which may stay so for good. */
const isComingBack = (unit: UnitNow): boolean => unit.place === 'limbo' && unit.mode === MODE.starting;

/** Whether a unit still had the grid well after the departure: one that then falls silent proves no grid loss. */
function stayed(event: IslandEvent, unit: UnitNow, record: SiteRecord): boolean {
  const staggerMs = 2 * record.sample_interval_s * SECOND_MS;
  return (unit.place === 'on' || unit.place === 'limbo') && unit.placeT! > event.start + staggerMs;
}

/** Takes every unit that is off by now into the event, and confirms it once no reporting unit is on the grid. */
export function gather(event: IslandEvent, units: readonly UnitNow[], record: SiteRecord, t: number): void {
  const fresh = freshMs(record);
  let someOff = false;
  let someOn = false;
  for (const unit of units) {
    const speaks = unit.placeT !== null && t - unit.placeT <= fresh;
    if (unit.place === 'off' && !unit.alone && unit.placeT! >= event.start) {
      if (!event.members.includes(unit.id)) event.members.push(unit.id);
      if (speaks) someOff = true;
    }
    if (speaks && (unit.place === 'on' || unit.place === 'limbo')) someOn = true;
    if (event.confirmedAt === null && stayed(event, unit, record)) someOn = true;
  }
  if (event.confirmedAt !== null || !someOff || someOn) return;
  event.confirmedAt = t;
  event.excursions = event.excursions.map((e) => ({ ...e, detectedAt: t }));
}

/**
 * Whether the departure has come to nothing: all are back, or the others stay on the grid while these are
 * off. The latter are marked as off by themselves.
 */
export function isDropped(event: IslandEvent, units: readonly UnitNow[], record: SiteRecord, t: number): boolean {
  if (event.confirmedAt !== null) return false;
  const fresh = freshMs(record);
  const off = units.filter((unit) => event.members.includes(unit.id) && isOff(unit));
  if (off.length === 0) return true;
  const othersStay = units.some(
    (unit) => (unit.place === 'on' || unit.place === 'limbo') && unit.placeT !== null && t - unit.placeT <= fresh,
  );
  if (t - event.start <= Math.max(fresh, LEAVE_TOGETHER_MS) || !othersStay) return false;
  for (const unit of off) unit.alone = true;
  return true;
}

/** Notes that a unit came back on the grid at t. */
export function noteReturn(event: IslandEvent, t: number): void {
  event.pendingEnd = t;
  event.atReturn = copyTally(event.tally);
}

/**
 * Decides at t whether the event is over: nobody who left is still off or starting up, or who is has fallen silent, or
 * stays off by itself long after the others came back. Sets `end`, the first reading on the grid of the
 * last unit that came back.
 */
export function settleEnd(event: IslandEvent, units: readonly UnitNow[], record: SiteRecord, t: number): void {
  if (event.confirmedAt === null) return;
  const fresh = freshMs(record);
  const onGrid = units.filter((unit) => unit.place === 'on' && unit.placeT! >= event.start);
  if (onGrid.length === 0) {
    event.firstOn = event.pendingEnd = event.atReturn = null;
    return;
  }
  event.firstOn ??= t;
  if (event.pendingEnd === null) noteReturn(event, t);
  const firstOn = event.firstOn;
  const othersSpeak = onGrid.some((unit) => t - unit.placeT! <= fresh);
  const held = units.filter((unit) => event.members.includes(unit.id) && (isOff(unit) || isComingBack(unit)));
  const stillHolds = held.some(
    (unit) => t - Math.max(unit.placeT!, firstOn) <= fresh && !(othersSpeak && t - firstOn >= RETURN_TOGETHER_MS),
  );
  if (stillHolds) return;
  for (const unit of held) unit.alone = true;
  event.end = event.pendingEnd;
  if (event.end !== null && event.end < t && event.atReturn !== null) event.tally = event.atReturn;
}
