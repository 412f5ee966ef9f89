/**
 * Powers of the units of one phase group, brought to the same instants and averaged over bins.
 *
 * Units are not sampled together, and a load step between two samples looks like a swing of share. So only calm
 * instants count: a sample of the unit that spoke most often in the bin, around which every unit stayed where it was,
 * the others read off a straight line between the two samples that bracket it. A bin is a pure function of the readings inside it.
 */
import { MODES } from '../vocabulary/quantities.ts';
import { DAY_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { columnOf, type SourceDay } from './day-block.ts';

/** Steps smaller than this share of the power, or than so many watts, are noise and ripple. */
const CALM_SHARE = 0.04;
const CALM_W = 30;
/** Two samples further apart than this many intervals do not bracket anything. */
const BRACKET_INTERVALS = 2.5;
/** Fewer calm instants say too little of a bin. */
const INSTANTS_MIN = 3;
const BIN_LENGTHS_MS = [15, 30, 60, 120, 240].map((minutes) => minutes * MINUTE_MS);
const INTERVALS_A_BIN = 15;

export type SharingMode = 'grid' | 'backup';

export interface PowerBin {
  /** Begin and end of the bin, epoch ms. */
  readonly t: number;
  readonly endMs: number;
  readonly mode: SharingMode;
  /** Mean power of each unit over the calm instants, W, in order of the units. */
  readonly unitW: readonly number[];
  readonly totalW: number;
  /** What each unit took in at the same instants (grid + PV + battery), W; null where one of them is absent. */
  readonly inputW: readonly (number | null)[];
  /** Mean output voltage over the units at the same instants, V; null where one of them sends none. */
  readonly outputV: number | null;
  /** About how long the calm instants stand for, min. */
  readonly minutes: number;
}

/** Bins of a quarter of an hour, longer where samples are sparse; always a divisor of the day. */
export function binLengthMs(sampleIntervalS: number): number {
  const wantedMs = INTERVALS_A_BIN * sampleIntervalS * SECOND_MS;
  return BIN_LENGTHS_MS.find((ms) => ms >= wantedMs) ?? BIN_LENGTHS_MS.at(-1)!;
}

interface Series {
  readonly tMs: Float64Array;
  readonly powerW: Float64Array;
  readonly mode: Float64Array | null;
  readonly gridV: Float64Array | null;
  readonly outputV: Float64Array | null;
  readonly inputs: readonly (Float64Array | null)[];
}

interface Options {
  readonly day: number;
  readonly sampleIntervalS: number;
  /** Under half of it the grid is gone, where a unit sends no mode. */
  readonly nominalVoltageV: number;
  /**
   * On the grid, instants at which the units charge with more than this together are left out, W; absent: none. What
   * charges comes through the input cables, and where these differ it moves the share of the output.
   */
  readonly chargeMaxW?: number;
}

/**
 * The bins of a day that have enough calm instants, in order, at most one a mode and bin.
 *
 * @param units the units of one phase group; a unit without output power makes the answer empty
 */
export function powerBins(units: readonly (SourceDay | undefined)[], options: Options): PowerBin[] {
  const series = units.map(seriesOf);
  if (series.length === 0 || series.some((s) => s === null)) return [];
  const all = series as readonly Series[];
  const lengthMs = binLengthMs(options.sampleIntervalS);
  const bins: PowerBin[] = [];
  const rows = all.map(() => 0);
  for (let t = options.day; t < options.day + DAY_MS; t += lengthMs) {
    const ends = all.map((s, k) => {
      let row = rows[k]!;
      while (row < s.tMs.length && s.tMs[row]! < t + lengthMs) row++;
      return row;
    });
    bins.push(...binOf(all, rows.slice(), ends, t, lengthMs, options));
    rows.splice(0, rows.length, ...ends);
  }
  return bins;
}

function seriesOf(unit: SourceDay | undefined): Series | null {
  const powerW = columnOf(unit, 'output_power_w');
  if (unit === undefined || powerW === null) return null;
  return {
    tMs: unit.tMs,
    powerW,
    mode: columnOf(unit, 'mode'),
    gridV: columnOf(unit, 'grid_voltage_v'),
    outputV: columnOf(unit, 'output_voltage_v'),
    inputs: [
      columnOf(unit, 'grid_power_w'),
      columnOf(unit, 'pv_power_w'),
      columnOf(unit, 'dc_voltage_v'),
      columnOf(unit, 'dc_current_a'),
    ],
  };
}

interface Sums {
  instants: number;
  volts: number;
  readonly unitW: Float64Array;
  readonly inputW: Float64Array;
}

function binOf(
  all: readonly Series[],
  from: readonly number[],
  to: readonly number[],
  t: number,
  lengthMs: number,
  options: Options,
): PowerBin[] {
  const sums = new Map<SharingMode, Sums>();
  const intervalMs = options.sampleIntervalS * SECOND_MS;
  const first = mostSampled(from, to);
  const lead = all[first]!;
  const cursors = from.slice();
  const at = new Float64Array(all.length);
  const nearest = new Int32Array(all.length);
  for (let row = from[first]! + 1; row < to[first]! - 1; row++) {
    if (!isCalm(lead, row - 1, row, intervalMs) || !isCalm(lead, row, row + 1, intervalMs)) continue;
    const instant = lead.tMs[row]!;
    at[first] = lead.powerW[row]!;
    nearest[first] = row;
    let isWhole = true;
    for (let k = 0; k < all.length && isWhole; k++) {
      if (k === first) continue;
      const other = all[k]!;
      let j = cursors[k]!;
      while (j + 1 < to[k]! && other.tMs[j + 1]! <= instant) j++;
      cursors[k] = j;
      isWhole = j + 1 < to[k]! && other.tMs[j]! <= instant && isCalm(other, j, j + 1, intervalMs);
      if (!isWhole) break;
      const part = (instant - other.tMs[j]!) / (other.tMs[j + 1]! - other.tMs[j]!);
      at[k] = other.powerW[j]! + part * (other.powerW[j + 1]! - other.powerW[j]!);
      nearest[k] = part < 0.5 ? j : j + 1;
    }
    if (!isWhole) continue;
    const mode = commonMode(all, nearest, options.nominalVoltageV);
    if (mode === null) continue;
    if (mode === 'grid' && chargeW(all, nearest) > (options.chargeMaxW ?? Number.POSITIVE_INFINITY)) continue;
    const sum = sums.get(mode) ?? {
      instants: 0,
      volts: 0,
      unitW: new Float64Array(all.length),
      inputW: new Float64Array(all.length),
    };
    sums.set(mode, sum);
    sum.instants++;
    for (let k = 0; k < all.length; k++) {
      sum.unitW[k]! += at[k]!;
      sum.inputW[k]! += inputAt(all[k]!, nearest[k]!);
      sum.volts += (all[k]!.outputV?.[nearest[k]!] ?? Number.NaN) / all.length;
    }
  }
  return [...sums].flatMap(([mode, { instants, volts, unitW, inputW }]) => {
    if (instants < INSTANTS_MIN) return [];
    const means = Array.from(unitW, (w) => w / instants);
    return [
      {
        t,
        endMs: t + lengthMs,
        mode,
        unitW: means,
        totalW: means.reduce((a, b) => a + b, 0),
        inputW: Array.from(inputW, (w) => (Number.isNaN(w) ? null : w / instants)),
        outputV: Number.isNaN(volts) ? null : volts / instants,
        minutes: (instants * options.sampleIntervalS) / 60,
      },
    ];
  });
}

/** The unit whose samples are the instants: the one with most of them, of several the first. */
function mostSampled(from: readonly number[], to: readonly number[]): number {
  const counts = from.map((row, k) => to[k]! - row);
  return counts.indexOf(Math.max(...counts));
}

/** Whether a unit stayed where it was from row a to row b; missing power is not calm. */
function isCalm(series: Series, a: number, b: number, intervalMs: number): boolean {
  const before = series.powerW[a]!;
  const after = series.powerW[b]!;
  if (Number.isNaN(before) || Number.isNaN(after)) return false;
  if (
    series.mode !== null &&
    series.mode[a] !== series.mode[b] &&
    !(Number.isNaN(series.mode[a]!) && Number.isNaN(series.mode[b]!))
  )
    return false;
  if (series.tMs[b]! - series.tMs[a]! > BRACKET_INTERVALS * intervalMs) return false;
  return Math.abs(after - before) <= Math.max(CALM_W, CALM_SHARE * Math.max(Math.abs(before), Math.abs(after)));
}

const GRID = MODES.indexOf('grid');
const BACKUP = MODES.indexOf('backup');
/** A unit in one of these may stand by while the others carry; in any other the set is not in one mode. */
const IDLE = new Set(['off', 'standby', 'fault'].map((word) => MODES.indexOf(word as (typeof MODES)[number])));

/** The mode in which the set is at an instant, or null where the units are not in one. */
function commonMode(all: readonly Series[], rows: Int32Array, nominalVoltageV: number): SharingMode | null {
  let grid = 0;
  let backup = 0;
  for (let k = 0; k < all.length; k++) {
    const { mode, gridV } = all[k]!;
    const word = mode?.[rows[k]!] ?? Number.NaN;
    if (word === GRID) grid++;
    else if (word === BACKUP) backup++;
    else if (Number.isNaN(word)) {
      const volts = gridV?.[rows[k]!] ?? Number.NaN;
      if (Number.isNaN(volts)) return null;
      if (volts < nominalVoltageV / 2) backup++;
      else grid++;
    } else if (!IDLE.has(word)) return null;
  }
  if (grid > 0 && backup > 0) return null;
  return grid > 0 ? 'grid' : backup > 0 ? 'backup' : null;
}

/** What all units together put into the battery, W; units that do not say put in nothing. */
function chargeW(all: readonly Series[], rows: Int32Array): number {
  let sum = 0;
  for (const [k, { inputs }] of all.entries()) {
    const watts = -(inputs[2]?.[rows[k]!] ?? Number.NaN) * (inputs[3]?.[rows[k]!] ?? Number.NaN);
    if (watts > 0) sum += watts;
  }
  return sum;
}

/** Grid + PV + battery, W; NaN where grid or battery is absent. A unit without PV sends none: then it counts 0. */
function inputAt({ inputs, mode }: Series, row: number): number {
  const [gridW, pvW, dcV, dcA] = inputs;
  const battery = (dcV?.[row] ?? Number.NaN) * (dcA?.[row] ?? Number.NaN);
  const isIsland = mode?.[row] === BACKUP;
  const grid = gridW?.[row] ?? (isIsland ? 0 : Number.NaN);
  return (isIsland && Number.isNaN(grid) ? 0 : grid) + (pvW === null || pvW === undefined ? 0 : pvW[row]!) + battery;
}
