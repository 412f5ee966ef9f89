/** What is known of one unit at an instant: its place with respect to the grid, and its newest values. */
import { columnOf, type SourceDay } from '../alignment/day-block.ts';
import type { SiteRecord, UnitRecord } from '../site/record.ts';
import { MODES, type UnitQuantity } from '../vocabulary/quantities.ts';

/** limbo: sees the grid, but neither on it nor on its own (off, standby, starting, fault). */
export type GridPlace = 'on' | 'off' | 'limbo' | 'generator';

export const MODE = {
  off: MODES.indexOf('off'),
  standby: MODES.indexOf('standby'),
  starting: MODES.indexOf('starting'),
  grid: MODES.indexOf('grid'),
  backup: MODES.indexOf('backup'),
  generator: MODES.indexOf('generator'),
  fault: MODES.indexOf('fault'),
} as const;

/** Grid voltage under this share of nominal: gone. */
const GRID_GONE = 0.5;
/** Output under this share of nominal: lost. */
export const OUTPUT_GONE = 0.1;
/** A frequency under this was not measured. */
const FREQUENCY_REAL_HZ = 10;
/** A unit on the grid that reads no output voltage but delivers this share of its rating is misreading. */
const CARRYING = 0.02;

/** Newest values, each null while unknown. Written to only within a fold, on that fold's own copy. */
export interface UnitNow {
  readonly id: string;
  heardT: number | null;
  place: GridPlace | null;
  placeT: number | null;
  /** Index into MODES of the newest reading that had one. */
  mode: number | null;
  /** Off the grid while the others stayed on it: no part of a grid loss. */
  alone: boolean;
  /** Factor on the record's nominal voltage by which this unit reports: per leg or per phase it is less than 1. */
  scale: number;
  voltageLowV: number | null;
  voltageHighV: number | null;
  voltageT: number | null;
  frequencyHz: number | null;
  frequencyT: number | null;
  /** Change from the reading before, per second, over how long, and when; null without a neighbour. */
  frequencyRate: { readonly perS: number; readonly windowS: number; readonly t: number } | null;
  voltageRate: { readonly perS: number; readonly windowS: number; readonly t: number } | null;
  powerW: number | null;
  powerT: number | null;
  /** Last change of power between two current readings, as a share of the rating. */
  swing: number;
  /** Power at the newest reading with a live output. */
  livePowerW: number | null;
  /** Greatest power over rating of the last minutes with a live output, and when; what goes before a loss. */
  peakShare: number | null;
  peakT: number | null;
  /** The maker's own number at the newest reading that had one, and when it was last not 0. */
  faultCode: number | null;
  faultT: number | null;
  dcV: number | null;
  loadPct: number | null;
  temperatureC: number | null;
  pvW: number | null;
  dcCurrentA: number | null;
  socPct: number | null;
  socT: number | null;
}

export function unheardUnit(id: string): UnitNow {
  return {
    id,
    heardT: null,
    place: null,
    placeT: null,
    mode: null,
    alone: false,
    scale: 1,
    voltageLowV: null,
    voltageHighV: null,
    voltageT: null,
    frequencyHz: null,
    frequencyT: null,
    frequencyRate: null,
    voltageRate: null,
    powerW: null,
    powerT: null,
    swing: 0,
    livePowerW: null,
    peakShare: null,
    peakT: null,
    faultCode: null,
    faultT: null,
    dcV: null,
    loadPct: null,
    temperatureC: null,
    pvW: null,
    dcCurrentA: null,
    socPct: null,
    socT: null,
  };
}

/** The columns of one unit's day that the island watch reads; null where absent all day. */
export interface UnitColumns {
  readonly record: UnitRecord;
  readonly nominalV: number;
  /** Grid voltage under which the grid is gone. */
  readonly gridGoneV: number;
  readonly scales: readonly number[];
  readonly tMs: Float64Array;
  readonly mode: Float64Array | null;
  readonly gridV: readonly Float64Array[];
  readonly outputV: readonly Float64Array[];
  readonly plainOutputV: Float64Array | null;
  readonly frequencyHz: Float64Array | null;
  readonly powerW: readonly Float64Array[];
  readonly loadPct: Float64Array | null;
  readonly temperatureC: Float64Array | null;
  readonly pvW: Float64Array | null;
  readonly dcCurrentA: Float64Array | null;
  readonly socPct: Float64Array | null;
  readonly faultCode: Float64Array | null;
  readonly dcV: Float64Array | null;
}

function present(source: SourceDay, ids: readonly UnitQuantity[]): Float64Array[] {
  return ids.flatMap((id) => columnOf(source, id) ?? []);
}

/** The record's nominal voltage may be between lines while a unit reports each leg or phase, or the mean of them. */
function scalesOf(unit: UnitRecord): readonly number[] {
  if (unit.phase === 'split') return [1, 0.5];
  if (unit.phase === 'three') return [1, 1 / Math.sqrt(3)];
  return [1];
}

export function unitColumns(source: SourceDay, unit: UnitRecord, record: SiteRecord): UnitColumns {
  const plainPower = columnOf(source, 'output_power_w');
  const plainGrid = columnOf(source, 'grid_voltage_v');
  const gridPhases = present(source, ['grid_voltage_l1_v', 'grid_voltage_l2_v', 'grid_voltage_l3_v']);
  const outputPhases = present(source, ['output_voltage_l1_v', 'output_voltage_l2_v', 'output_voltage_l3_v']);
  const powerPhases = present(source, ['output_power_l1_w', 'output_power_l2_w', 'output_power_l3_w']);
  return {
    record: unit,
    nominalV: record.supply.nominal_voltage_v,
    gridGoneV: GRID_GONE * record.supply.nominal_voltage_v * Math.min(...scalesOf(unit)),
    scales: scalesOf(unit),
    tMs: source.tMs,
    mode: columnOf(source, 'mode'),
    gridV: plainGrid === null ? gridPhases : [plainGrid],
    outputV: outputPhases.length > 0 ? outputPhases : present(source, ['output_voltage_v']),
    plainOutputV: columnOf(source, 'output_voltage_v'),
    frequencyHz: columnOf(source, 'output_frequency_hz'),
    powerW: plainPower === null ? powerPhases : [plainPower],
    loadPct: columnOf(source, 'load_pct'),
    temperatureC: columnOf(source, 'heatsink_temperature_c'),
    pvW: columnOf(source, 'pv_power_w'),
    dcCurrentA: columnOf(source, 'dc_current_a'),
    socPct: columnOf(source, 'battery_soc_pct'),
    faultCode: columnOf(source, 'fault_code'),
    dcV: columnOf(source, 'dc_voltage_v'),
  };
}

/** Mean of the values that are there; NaN where none is. */
function meanAt(columns: readonly Float64Array[], row: number): number {
  let sum = 0;
  let count = 0;
  for (const column of columns) {
    const value = column[row]!;
    if (!Number.isNaN(value)) {
      sum += value;
      count += 1;
    }
  }
  return count === 0 ? Number.NaN : sum / count;
}

/** Grid voltage of a reading, V: the plain figure, else the mean of the phases; NaN where neither is there. */
export function gridVoltageAt(unit: UnitColumns, row: number): number {
  return meanAt(unit.gridV, row);
}

/** Where a reading puts the unit; null where it does not say. `mode` decides, the grid's voltage where it is absent. */
export function placeAt(unit: UnitColumns, row: number): GridPlace | null {
  const mode = unit.mode === null ? Number.NaN : unit.mode[row]!;
  if (mode === MODE.grid) return 'on';
  if (mode === MODE.backup) return 'off';
  if (mode === MODE.generator) return 'generator';
  const gridV = meanAt(unit.gridV, row);
  if (!Number.isFinite(gridV)) return null;
  if (gridV < unit.gridGoneV) return 'off';
  return Number.isNaN(mode) ? 'on' : 'limbo';
}

/** Whether a reading is on the grid, or says nothing, and does not read a lost output: nothing can begin at it. */
function isCalmAt(unit: UnitColumns, row: number, floorV: number): boolean {
  for (const outputV of unit.outputV) if (outputV[row]! < floorV) return false;
  const mode = unit.mode === null ? Number.NaN : unit.mode[row]!;
  if (mode === MODE.grid) return true;
  const place = placeAt(unit, row);
  return place === 'on' || (place === null && Number.isNaN(mode));
}

/** Times of a unit's readings at which something may begin or go on, in order. */
export function restlessTimes(unit: UnitColumns): number[] {
  const floorV = OUTPUT_GONE * unit.nominalV;
  const times: number[] = [];
  for (let row = 0; row < unit.tMs.length; row++) if (!isCalmAt(unit, row, floorV)) times.push(unit.tMs[row]!);
  return times;
}

function valueAt(column: Float64Array | null, row: number): number | null {
  if (column === null) return null;
  const value = column[row]!;
  return Number.isNaN(value) ? null : value;
}

function learnScale(now: UnitNow, unit: UnitColumns, row: number): void {
  if (unit.scales.length === 1) return;
  const gridV = meanAt(unit.gridV, row);
  if (!(gridV > 0)) return;
  const offBy = (scale: number): number => Math.abs(Math.log(gridV / (unit.nominalV * scale)));
  now.scale = unit.scales.reduce((best, scale) => (offBy(scale) < offBy(best) ? scale : best));
}

function isStoppedAt({ mode }: UnitColumns, row: number): boolean {
  return mode !== null && (mode[row]! <= MODE.starting || mode[row] === MODE.fault);
}

/** Over more than this nothing is said about a rate of change, ms. */
const RATE_WINDOW_MS = 150_000;

function rateOf(before: number | null, beforeT: number | null, value: number, t: number): UnitNow['voltageRate'] {
  if (before === null || beforeT === null || t <= beforeT || t - beforeT > RATE_WINDOW_MS) return null;
  const windowS = (t - beforeT) / 1000;
  return { perS: (value - before) / windowS, windowS, t };
}

function takeVoltage(now: UnitNow, unit: UnitColumns, row: number, t: number): void {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const column of unit.outputV) {
    const value = column[row]!;
    if (value < low) low = value;
    if (value > high) high = value;
  }
  // Phase columns may be there with nothing in this reading, while the plain one has a value.
  if (low > high) low = high = valueAt(unit.plainOutputV, row) ?? Number.NaN;
  if (!Number.isNaN(low)) {
    now.voltageRate = rateOf(now.voltageLowV, now.voltageT, low, t);
    now.voltageLowV = low;
    now.voltageHighV = high;
    now.voltageT = t;
  } else if (isStoppedAt(unit, row)) {
    // It no longer says its voltage: the old one is no longer true.
    now.voltageLowV = now.voltageHighV = now.voltageT = null;
  }
}

/** How long a peak counts as what went just before, ms. */
const PEAK_MS = 5 * 60_000;

function keepPeak(now: UnitNow, share: number, t: number): void {
  if (now.peakShare !== null && now.peakT !== null && t - now.peakT <= PEAK_MS && share < now.peakShare) return;
  now.peakShare = share;
  now.peakT = t;
}

function takeFault(now: UnitNow, unit: UnitColumns, row: number, t: number): void {
  const code = valueAt(unit.faultCode, row);
  if (code === null) return;
  if (code !== 0) {
    now.faultCode = code;
    now.faultT = t;
  } else if (now.faultT === null) now.faultCode = 0;
}

/** Takes one reading over into what is known of the unit. */
export function takeReading(now: UnitNow, unit: UnitColumns, row: number, t: number): void {
  now.heardT = t;
  const mode = valueAt(unit.mode, row);
  if (mode !== null) now.mode = mode;
  const place = placeAt(unit, row);
  if (place !== null) {
    if (mode === null) now.mode = null;
    now.place = place;
    now.placeT = t;
    if (place === 'on') {
      now.alone = false;
      learnScale(now, unit, row);
    }
  }
  takeVoltage(now, unit, row, t);
  const frequencyHz = valueAt(unit.frequencyHz, row);
  if (frequencyHz !== null && frequencyHz >= FREQUENCY_REAL_HZ) {
    now.frequencyRate = rateOf(now.frequencyHz, now.frequencyT, frequencyHz, t);
    now.frequencyHz = frequencyHz;
    now.frequencyT = t;
  }
  const powerW = powerAt(unit, row);
  if (powerW !== null) {
    now.swing = now.powerW === null ? 0 : (powerW - now.powerW) / unit.record.rated_power_w;
    now.powerW = powerW;
    now.powerT = t;
    if (outputOf(now, unit.record, unit.nominalV, t) === 'live') {
      now.livePowerW = powerW;
      keepPeak(now, powerW / unit.record.rated_power_w, t);
    }
  } else if (isStoppedAt(unit, row)) {
    // Nor its power: no energy is made up of the one before it stopped.
    now.powerW = now.powerT = null;
  }
  takeFault(now, unit, row, t);
  now.dcV = valueAt(unit.dcV, row) ?? now.dcV;
  now.loadPct = valueAt(unit.loadPct, row) ?? now.loadPct;
  now.temperatureC = valueAt(unit.temperatureC, row) ?? now.temperatureC;
  now.pvW = valueAt(unit.pvW, row) ?? now.pvW;
  now.dcCurrentA = valueAt(unit.dcCurrentA, row) ?? now.dcCurrentA;
  const socPct = valueAt(unit.socPct, row);
  if (socPct !== null) {
    now.socPct = socPct;
    now.socT = t;
  }
}

/** Output power of a reading, W: the plain figure, else the sum of the phases, null where neither is there. */
export function powerAt(unit: UnitColumns, row: number): number | null {
  const mean = meanAt(unit.powerW, row);
  if (Number.isNaN(mean)) return null;
  return mean * unit.powerW.reduce((count, column) => count + (Number.isNaN(column[row]) ? 0 : 1), 0);
}

/** Whether a unit's output is live, lost, or cannot be told, from its newest values. */
export function outputOf(now: UnitNow, unit: UnitRecord, nominalV: number, t: number): 'live' | 'lost' | 'unknown' {
  if (now.voltageLowV !== null) {
    if (now.voltageLowV >= OUTPUT_GONE * nominalV * now.scale) return 'live';
    const carries = now.powerW !== null && now.powerT === t && Math.abs(now.powerW) > CARRYING * unit.rated_power_w;
    return now.place === 'on' && carries ? 'unknown' : 'lost';
  }
  if (now.mode === MODE.off || now.mode === MODE.fault || now.mode === MODE.standby) {
    // Without a voltage only the grid's absence proves it: many units pass the grid through while off.
    return now.place === 'off' ? 'lost' : 'unknown';
  }
  return now.mode === MODE.starting ? 'unknown' : now.place === null ? 'unknown' : 'live';
}
