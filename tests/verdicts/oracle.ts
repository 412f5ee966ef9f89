/**
 * A detector that knows what ours must learn: the noise, the shape and the size of the fault. It sees means of 15
 * minutes and not the load. The same site is lived twice, with the fault and without; where the two part is the shape.
 *
 * Its sum of log-likelihood ratios has the threshold of the same false-alarm budget (Page 1954, Lorden 1971; from
 * memory, unverified), so that delays can be held against each other.
 */
import { columnOf } from '../../ingest/vocabulary/quantities.ts';
import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import type { SimSite } from './plan.ts';
import { liveSite } from './simulate.ts';

const BIN_MS = 15 * 60_000;
const BINS_A_YEAR = 35_064;
const HOUR_MS = 3_600_000;
/** Shares of loads under it say little. */
const LOADED_SHARE = 0.2;

/** Means of a quantity of each source in bins of 15 minutes; NaN where nothing was heard. */
export class BinMeans {
  readonly #from: number;
  readonly #index: number;
  readonly #ids: readonly string[];
  readonly sums: Float64Array[];
  readonly counts: Float64Array[];
  readonly bins: number;

  constructor(site: SimSite, quantity: 'output_power_w' | 'soc_pct') {
    const kind = quantity === 'soc_pct' ? 'pack' : 'unit';
    this.#from = site.from;
    this.#index = columnOf(kind, quantity)!.index;
    this.#ids = (kind === 'unit' ? site.units : site.packs).map(({ id }) => `${kind}/${id}`);
    this.bins = Math.ceil((site.days * 24 * HOUR_MS) / BIN_MS) + 1;
    this.sums = this.#ids.map(() => new Float64Array(this.bins));
    this.counts = this.#ids.map(() => new Float64Array(this.bins));
  }

  take({ sources, rows, rowsLength }: ReadingBatch): void {
    const places = sources.map(({ kind, id }) => this.#ids.indexOf(`${kind}/${id}`));
    let at = 0;
    while (at < rowsLength) {
      const k = places[rows[at]!]!;
      const bin = Math.floor((rows[at + 1]! - this.#from) / BIN_MS);
      const end = at + 3 + 2 * rows[at + 2]!;
      if (k >= 0 && bin >= 0 && bin < this.bins)
        for (let i = at + 3; i < end; i += 2)
          if (rows[i] === this.#index) {
            this.sums[k]![bin]! += rows[i + 1]!;
            this.counts[k]![bin]! += 1;
          }
      at = end;
    }
  }

  mean(k: number, bin: number): number {
    return this.sums[k]![bin]! / this.counts[k]![bin]!;
  }
}

/** What is watched of the odd one: its share of the load, or its charge less the mean of the others, by bin. */
function watched(site: SimSite, means: BinMeans, place: number, kind: 'share' | 'soc'): Float64Array {
  const ratedW = site.units.reduce((sum, u) => sum + u.ratedW, 0);
  const count = kind === 'share' ? site.units.length : site.packs.length;
  return Float64Array.from({ length: means.bins }, (_, bin) => {
    let others = 0;
    for (let k = 0; k < count; k++) if (k !== place) others += means.mean(k, bin);
    const own = means.mean(place, bin);
    if (kind === 'soc') return (own - others / (count - 1)) / 10;
    const total = own + others;
    return total < LOADED_SHARE * ratedW ? Number.NaN : (100 * own) / total;
  });
}

/** @returns hours from the fault to the oracle's alarm, null where it raises none */
export function oracleDelayH(site: SimSite, faulty: BinMeans, kind: 'share' | 'soc', budget: number): number | null {
  const fault = site.faults[0]!;
  const twin = new BinMeans(site, kind === 'share' ? 'output_power_w' : 'soc_pct');
  liveSite({ ...site, faults: [] }, (batch) => twin.take(batch));
  const seen = watched(site, faulty, fault.place, kind);
  const plain = watched(site, twin, fault.place, kind);
  const known = plain.filter((x) => !Number.isNaN(x));
  const mean = known.reduce((a, b) => a + b, 0) / known.length;
  // Rounding alone leaves some noise, so that the ratio stays finite.
  const variance = Math.max(0.01, known.reduce((sum, x) => sum + (x - mean) ** 2, 0) / known.length);
  const threshold = Math.log((BINS_A_YEAR * 2 * (kind === 'share' ? site.units.length : site.packs.length)) / budget);
  let sum = 0;
  for (let bin = Math.ceil((fault.start - site.from) / BIN_MS); bin < seen.length; bin++) {
    const shift = seen[bin]! - plain[bin]!;
    if (Number.isNaN(shift)) continue;
    sum = Math.max(0, sum + ((seen[bin]! - mean) * shift - (shift * shift) / 2) / variance);
    if (sum > threshold) return (site.from + (bin + 1) * BIN_MS - fault.start) / HOUR_MS;
  }
  return null;
}
