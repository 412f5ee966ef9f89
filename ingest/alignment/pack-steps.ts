/**
 * How the packs share a change of the bank's current. Steady, packs share by capacity whatever their paths, because their
 * charges part until they do; within minutes of a change they share by conductance. So a path that gets worse shows in the
 * changes long before it shows in the means.
 */
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { columnOf, type SourceDay } from './day-block.ts';

export interface PackStepHour {
  readonly t: number;
  /** Sum of the squared changes of the bank's current from bin to bin, as parts of capacity an hour, squared. */
  readonly energy: number;
  /** Each pack's part of those changes over its part of the capacity, in order of the packs. */
  readonly parts: readonly number[];
}

/** Means over minutes, so that packs need not be read at one instant; divisors of the hour. */
const BIN_LENGTHS_MS = [5, 10, 15, 20].map((minutes) => minutes * MINUTE_MS);
const SAMPLES_A_BIN = 4;
/** Changes that come to less than this in an hour, squared, are ripple. */
const ENERGY_MIN = 0.02 ** 2;
/** Beyond these charges, %, the voltage is steep, and packs share by charge at once. */
const CHARGE_BAND_PCT: readonly [number, number] = [12, 96];

/**
 * Hours of a day with enough change of current.
 *
 * @param packs in order of the record, at least 2; one that sends no current makes the answer empty
 */
export function packSteps(
  packs: readonly (SourceDay | undefined)[],
  capacityAh: readonly number[],
  { day, sampleIntervalS }: { readonly day: number; readonly sampleIntervalS: number },
): PackStepHour[] {
  const wantedMs = SAMPLES_A_BIN * sampleIntervalS * SECOND_MS;
  const lengthMs = BIN_LENGTHS_MS.find((ms) => ms >= wantedMs);
  if (lengthMs === undefined) return [];
  const bins = packs.map((pack) => binMeans(pack, day, lengthMs));
  if (bins.some((b) => b === null)) return [];
  const totalAh = capacityAh.reduce((a, b) => a + b, 0);
  const aBin = HOUR_MS / lengthMs;
  const hours: PackStepHour[] = [];
  for (let first = 0; first < DAY_MS / lengthMs; first += aBin) {
    let energy = 0;
    const sums = packs.map(() => 0);
    for (let bin = first + 1; bin < first + aBin; bin++) {
      const changes = bins.map((own) => own![bin]! - own![bin - 1]!);
      const total = changes.reduce((a, b) => a + b, 0);
      // One pack that said nothing, or stood near full or empty, leaves the change unknown.
      if (Number.isNaN(total)) continue;
      energy += (total / totalAh) ** 2;
      for (const [k, change] of changes.entries()) sums[k]! += (change * total) / totalAh ** 2;
    }
    if (energy < ENERGY_MIN) continue;
    const parts = sums.map((sum, k) => Math.round((1000 * sum) / energy / (capacityAh[k]! / totalAh)) / 1000 + 0);
    hours.push({ t: day + first * lengthMs, energy: Math.round(energy * 1e6) / 1e6, parts });
  }
  return hours;
}

/** Mean current of each bin of the day, A; NaN where there is none or the charge is near its ends. */
function binMeans(pack: SourceDay | undefined, day: number, lengthMs: number): Float64Array | null {
  const amps = columnOf(pack, 'pack_current_a');
  const soc = columnOf(pack, 'soc_pct');
  if (pack === undefined || amps === null || soc === null) return null;
  const count = DAY_MS / lengthMs;
  const sums = new Float64Array(count);
  const counts = new Float64Array(count);
  for (let row = 0; row < pack.tMs.length; row++) {
    const current = amps[row]!;
    const charge = soc[row]!;
    if (Number.isNaN(current)) continue;
    const bin = Math.floor((pack.tMs[row]! - day) / lengthMs);
    const isSteep = charge < CHARGE_BAND_PCT[0] || charge > CHARGE_BAND_PCT[1];
    sums[bin]! += isSteep ? Number.NaN : current;
    counts[bin]! += 1;
  }
  return sums.map((sum, bin) => sum / counts[bin]!);
}
