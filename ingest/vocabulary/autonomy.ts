/** How long a site carries itself: usual use, what can be had from the battery, and how right that was so far. */
import type { EpochMs } from './time.ts';

const HOUR_MS = 3_600_000;
export const HOURS_A_WEEK = 168;
/** The week of a profile begins on Monday, midnight of the site's own time. 1970 began on a Thursday. */
const MONDAY_OFFSET_HOURS = 72;
/** Longer than this is told as "more than". */
export const LONGEST_BACKUP_H = 168;

/** An outage of the site itself that the estimate was held against, made with what was known before it. */
export interface BackTest {
  readonly start: EpochMs;
  readonly hours: number;
  /** Estimated over real time for the charge that was used, less 1. */
  readonly error: number;
}

/** Powers W, energies Wh, charges %, hours of the week from Monday 00:00 local. */
export interface Autonomy {
  readonly site: string;
  /** When the charge was read; null where none is known. */
  readonly at: EpochMs | null;
  readonly socPct: number | null;
  readonly reservePct: number;
  /** The record names none. */
  readonly isReserveAssumed: boolean;
  /** Wh at the output for each point of charge. */
  readonly outputWhPerPoint: number | null;
  /** From the site's own outages; else from capacity, health and an assumed conversion. */
  readonly isEnergyLearnt: boolean;
  /** Wh at the output from the charge now down to the reserve; null where it can't be told. */
  readonly usableWh: number | null;
  /** 168 each; null: nothing known of that hour. P50: half of the time it is less; P90: nine tenths of the time. */
  readonly loadP50W: readonly (number | null)[];
  readonly loadP90W: readonly (number | null)[];
  /** Usual charge by hour of the local day, 24 each: the median, and what nine tenths of the days have at least. */
  readonly chargeP50Pct: readonly (number | null)[];
  readonly chargeP10Pct: readonly (number | null)[];
  /** Newest last. */
  readonly backTests: readonly BackTest[];
  /** Why nothing can be told; null where something can. */
  readonly because: string | null;
}

/** Hour of the local week, 0 to 167, as a fraction. */
export function hourOfWeek(t: number, utcOffsetMs: number): number {
  const hours = (t + utcOffsetMs) / HOUR_MS + MONDAY_OFFSET_HOURS;
  return ((hours % HOURS_A_WEEK) + HOURS_A_WEEK) % HOURS_A_WEEK;
}

/** Wh that a load profile takes from `startHour` of the week for so many hours; null where an hour is not known. */
export function energyOver(loadW: readonly (number | null)[], startHour: number, hours: number): number | null {
  let energyWh = 0;
  let at = startHour;
  let left = hours;
  while (left > 1e-9) {
    const hour = Math.floor(at + 1e-9);
    const part = Math.min(left, hour + 1 - at);
    const watts = loadW[hour % HOURS_A_WEEK] ?? null;
    if (watts === null) return null;
    energyWh += watts * part;
    at += part;
    left -= part;
  }
  return energyWh;
}

/**
 * How long an energy lasts under a load profile.
 *
 * @returns hours, at most `LONGEST_BACKUP_H`; null where an hour on the way is not known
 */
export function hoursOf(energyWh: number, loadW: readonly (number | null)[], startHour: number): number | null {
  let left = Math.max(0, energyWh);
  let at = startHour;
  while (at - startHour < LONGEST_BACKUP_H) {
    const hour = Math.floor(at + 1e-9);
    const part = hour + 1 - at;
    const watts = loadW[hour % HOURS_A_WEEK] ?? null;
    if (watts === null) return null;
    if (watts > 0 && watts * part >= left) return at - startHour + left / watts;
    left -= Math.max(0, watts) * part;
    at += part;
  }
  return LONGEST_BACKUP_H;
}
