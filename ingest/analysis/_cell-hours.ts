/** Hours of one pack's cells: how far the highest stands above the lowest, on the flat of the curve and in its knees. */
import { columnOf, type SourceDay } from '../alignment/day-block.ts';
import type { PackRecord } from '../site/record.ts';
import { HOUR_MS } from '../vocabulary/time.ts';

/** Where on the curve the cells were: at its ends small differences of charge are large ones of voltage. */
export type CellPlace = 'flat' | 'knee';

export interface CellHour {
  readonly t: number;
  readonly place: CellPlace;
  /** Mean of highest less lowest, V. */
  readonly spreadV: number;
  /** Mean of the current's amount as a part of capacity an hour; 0 where none is sent. */
  readonly loadC: number;
}

/**
 * LFP leaves its flat beyond these, V a cell at rest (measured pseudo-OCV: 15 to 97 % rest within 3.21 and 3.35 V), and
 * what a current moves them by, V at 1 C. The charge alone would not do: a gauge that runs off calls a full pack half full.
 */
const LFP_FLAT_V: readonly [number, number] = [3.21, 3.345];
const BY_CURRENT_V = 0.1;
/** By charge, for any chemistry. */
const FLAT_PCT: readonly [number, number] = [12, 96];
const READINGS_MIN = 3;

/**
 * The hours of a day, at most one a place and hour, in order.
 *
 * @param day midnight UTC, epoch ms
 */
export function cellHours(
  pack: SourceDay | undefined,
  day: number,
  { capacity_ah: capacityAh, cells_in_series: cells, chemistry }: PackRecord,
): CellHour[] {
  const isLfp = chemistry.toLowerCase() === 'lfp';
  const lowest = columnOf(pack, 'cell_voltage_min_v');
  const highest = columnOf(pack, 'cell_voltage_max_v');
  if (pack === undefined || lowest === null || highest === null) return [];
  const socs = columnOf(pack, 'soc_pct');
  const amps = columnOf(pack, 'pack_current_a');
  const packVolts = columnOf(pack, 'pack_voltage_v');
  const hours: CellHour[] = [];
  let row = 0;
  const { tMs } = pack;
  while (row < tMs.length) {
    const t = Math.floor((tMs[row]! - day) / HOUR_MS) * HOUR_MS + day;
    const sums = { flat: { n: 0, v: 0, c: 0 }, knee: { n: 0, v: 0, c: 0 } };
    for (; row < tMs.length && tMs[row]! < t + HOUR_MS; row++) {
      const [low, high] = [lowest[row]!, highest[row]!];
      if (Number.isNaN(low) || Number.isNaN(high)) continue;
      const soc = socs?.[row] ?? Number.NaN;
      const current = amps?.[row] ?? Number.NaN;
      const load = Number.isNaN(current) ? 0 : current / capacityAh;
      // The pack's own voltage where it is sent: one cell that strays moves it least.
      const packV = packVolts?.[row] ?? Number.NaN;
      const cellV = (Number.isNaN(packV) ? (low + high) / 2 : packV / cells) + BY_CURRENT_V * load;
      // Without a charge and without LFP the place is not known: then nothing is said.
      if (Number.isNaN(soc) && !isLfp) continue;
      const isKnee = isOutside(soc, FLAT_PCT) || (isLfp && isOutside(cellV, LFP_FLAT_V));
      const sum = sums[isKnee ? 'knee' : 'flat'];
      sum.n++;
      sum.v += high - low;
      sum.c += Math.abs(load);
    }
    for (const place of ['flat', 'knee'] as const) {
      const { n, v, c } = sums[place];
      if (n >= READINGS_MIN) hours.push({ t, place, spreadV: round(v / n, 5), loadC: round(c / n, 4) });
    }
  }
  return hours;
}

const isOutside = (value: number, [from, to]: readonly [number, number]): boolean => value < from || value > to;

const round = (value: number, decimals: number): number => Math.round(value * 10 ** decimals) / 10 ** decimals + 0;
