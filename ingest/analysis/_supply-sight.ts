/** What one unit says of the grid at its own input, reading by reading. */
import { columnOf, type SourceDay } from '../alignment/day-block.ts';
import type { SiteRecord, UnitRecord } from '../site/record.ts';
import { gridVoltageAt, MODE, type UnitColumns, unitColumns } from './_unit-now.ts';

/** has: on the grid or seeing it. gone: no voltage at its input. waiting: sees the grid but stays on its own. */
export type Sight = 'has' | 'gone' | 'waiting';

/** A unit that reads no voltage but takes this share of its rating from the grid is misreading. */
const TAKING = 0.02;

/** The columns that tell it. */
export interface SightColumns {
  readonly unit: UnitColumns;
  readonly gridPowerW: Float64Array | null;
}

export function sightColumns(source: SourceDay, unit: UnitRecord, record: SiteRecord): SightColumns {
  return { unit: unitColumns(source, unit, record), gridPowerW: columnOf(source, 'grid_power_w') };
}

/** What a reading says; null where it says nothing: a unit that is off or starting measures no grid. */
export function sightAt({ unit, gridPowerW }: SightColumns, row: number): Sight | null {
  const mode = unit.mode === null ? Number.NaN : unit.mode[row]!;
  if (mode === MODE.off || mode === MODE.starting || mode === MODE.generator) return null;
  const volts = gridVoltageAt(unit, row);
  if (Number.isNaN(volts)) {
    if (mode === MODE.grid) return 'has';
    return mode === MODE.backup ? 'gone' : null;
  }
  if (volts >= unit.gridGoneV) return mode === MODE.backup ? 'waiting' : 'has';
  const takenW = gridPowerW === null ? Number.NaN : gridPowerW[row]!;
  return Math.abs(takenW) > TAKING * unit.record.rated_power_w ? null : 'gone';
}

/** One unit's newest word on the grid, and since when it has been saying it. */
export interface SightRun {
  readonly sight: Sight;
  readonly since: number;
  /** Since when the unit has been away, waiting included; null while it has the grid. */
  readonly awaySince: number | null;
  readonly t: number;
  readonly readings: number;
  readonly volts: number | null;
  /** Changes of voltage ever seen, as far as they matter. */
  readonly lively: number;
  /** Readings since the voltage last changed. */
  readonly still: number;
}

/** So many changes show that the voltage is measured, finely enough to move. */
const LIVELY_CHANGES = 30;
/** One that has stood still for so many readings since is stuck: it bears no witness. */
const STILL_READINGS = 20;

export function isStuck({ lively, still }: SightRun): boolean {
  return lively >= LIVELY_CHANGES && still >= STILL_READINGS;
}

/** The same for a whole day on which the unit has the grid at every reading. */
export function takeDayOnGrid(
  before: SightRun | null,
  tMs: Float64Array,
  voltsAt: (row: number) => number,
): SightRun | null {
  if (tMs.length === 0) return before;
  let volts = before?.volts ?? null;
  let lively = before?.lively ?? 0;
  let still = before?.still ?? 0;
  for (let row = 0; row < tMs.length; row++) {
    const now = voltsAt(row);
    const isAbsent = Number.isNaN(now);
    const hasMoved = !isAbsent && volts !== null && now !== volts;
    if (hasMoved && lively < LIVELY_CHANGES) lively += 1;
    still = hasMoved || isAbsent ? 0 : still + 1;
    if (!isAbsent) volts = now;
  }
  const isSame = before !== null && before.sight === 'has';
  return {
    sight: 'has',
    since: isSame ? before.since : tMs[0]!,
    awaySince: null,
    t: tMs[tMs.length - 1]!,
    readings: (isSame ? before.readings : 0) + tMs.length,
    volts,
    lively,
    still,
  };
}

/** Takes one reading over; `volts` is null where it is absent. */
export function takeSight(before: SightRun | null, sight: Sight, volts: number | null, t: number): SightRun {
  const hasMoved = before !== null && volts !== null && before.volts !== null && volts !== before.volts;
  const isSame = before !== null && before.sight === sight;
  return {
    sight,
    since: isSame ? before.since : t,
    awaySince: sight === 'has' ? null : (before?.awaySince ?? t),
    t,
    readings: isSame ? before.readings + 1 : 1,
    volts: volts ?? before?.volts ?? null,
    lively: Math.min(LIVELY_CHANGES, (before?.lively ?? 0) + (hasMoved ? 1 : 0)),
    still: hasMoved || volts === null ? 0 : (before?.still ?? 0) + 1,
  };
}
