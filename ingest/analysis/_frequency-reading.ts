/** What each source says of the frequency of the AC bus, reading by reading. */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import type { SiteRecord } from '../site/record.ts';
import { SECOND_MS } from '../vocabulary/time.ts';
import type { Heard } from './_frequency-pool.ts';
import { OUTPUT_GONE, placeAt, type UnitColumns, unitColumns } from './_unit-now.ts';

/** A frequency under this was not measured. */
const REAL_HZ = 10;
/** Two readings of one source further apart are not calm, whatever rounding allows besides. */
const CALM_HZ = 0.03;
/** Two samples further apart than this many intervals say nothing about the time between. */
const BRACKET_INTERVALS = 2.5;

export interface FrequencyFeed {
  readonly id: string;
  readonly isUnit: boolean;
  readonly source: SourceDay;
  readonly unit: UnitColumns | null;
  readonly hz: Float64Array | null;
  readonly gridHz: Float64Array | null;
  readonly patienceMs: number;
}

/** Units by their id, meters on the bus as `meter/id`. A supply or generator meter is not on the backup output. */
export function frequencyFeeds(block: DayBlock, record: SiteRecord): FrequencyFeed[] {
  const patienceMs = BRACKET_INTERVALS * record.sample_interval_s * SECOND_MS;
  const units = record.units.flatMap((unit): FrequencyFeed[] => {
    const source = block.units.get(unit.id);
    if (source === undefined) return [];
    const hz = columnOf(source, 'output_frequency_hz');
    const gridHz = columnOf(source, 'grid_frequency_hz');
    return [{ id: unit.id, isUnit: true, source, unit: unitColumns(source, unit, record), hz, gridHz, patienceMs }];
  });
  const meters = record.meters.flatMap(({ id, role }): FrequencyFeed[] => {
    const source = block.meters.get(id);
    if (source === undefined || (role !== 'ac_pv' && role !== 'load')) return [];
    const hz = columnOf(source, 'meter_frequency_hz');
    return [{ id: `meter/${id}`, isUnit: false, source, unit: null, hz, gridHz: null, patienceMs }];
  });
  return [...units, ...meters];
}

function isCalm(before: number | null, beforeT: number | null, value: number, t: number, heard: Heard, ms: number) {
  if (before === null || beforeT === null || t - beforeT > ms) return false;
  return Math.abs(value - before) <= CALM_HZ + (heard.resolutionHz ?? 0) + 1e-9;
}

/** Learns the step in which a source rounds: the smallest difference that it ever showed. */
function learnResolution(heard: Heard, value: number): void {
  if (heard.hz === null) return;
  const stepHz = Math.abs(value - heard.hz);
  if (stepHz < 1e-6) return;
  if (heard.resolutionHz === null || stepHz < heard.resolutionHz - 1e-6)
    heard.resolutionHz = Math.round(stepHz * 1000) / 1000;
}

function isOutputLost(unit: UnitColumns, row: number): boolean {
  return unit.outputV.some((volts) => volts[row]! < OUTPUT_GONE * unit.nominalV);
}

/** Takes one reading over; whether it said a frequency. */
export function takeFrequency(heard: Heard, feed: FrequencyFeed, row: number, t: number): boolean {
  const { unit, hz, gridHz, patienceMs } = feed;
  const place = unit === null ? null : placeAt(unit, row);
  if (unit !== null && place !== heard.place) {
    heard.place = place;
    heard.hz = heard.hzT = heard.gridHz = heard.gridHzT = null;
  }
  const grid = gridHz === null ? Number.NaN : gridHz[row]!;
  if (grid >= REAL_HZ) {
    heard.isGridCalm = isCalm(heard.gridHz, heard.gridHzT, grid, t, heard, patienceMs);
    heard.gridHz = grid;
    heard.gridHzT = t;
  }
  const value = hz === null ? Number.NaN : hz[row]!;
  if (!(value >= REAL_HZ) || (unit !== null && isOutputLost(unit, row))) return false;
  learnResolution(heard, value);
  heard.isCalm = isCalm(heard.hz, heard.hzT, value, t, heard, patienceMs);
  heard.hz = value;
  heard.hzT = t;
  return true;
}
