/** What is usual, by slot of the week or day: counts in bins of a fixed ratio or width, older days for less. */

/** Sparse: slot → bin → weight. */
export type Usual = { readonly [slot: string]: { readonly [bin: string]: number } };

/** After so many days a day counts for half. */
const HALF_LIFE_DAYS = 42;
const DAILY = 0.5 ** (1 / HALF_LIFE_DAYS);
/** Less than this is forgotten. */
const FORGOTTEN = 0.02;

const rounded = (weight: number): number => Math.round(weight * 1000) / 1000;

/** A day has gone by: everything counts a little less. */
export function aged(usual: Usual): Usual {
  return Object.fromEntries(
    Object.entries(usual).flatMap(([slot, bins]) => {
      const left = Object.entries(bins)
        .map(([bin, weight]) => [bin, rounded(weight * DAILY)] as const)
        .filter(([, weight]) => weight >= FORGOTTEN);
      return left.length === 0 ? [] : [[slot, Object.fromEntries(left)]];
    }),
  );
}

export function counted(usual: Usual, slot: number, bin: number): Usual {
  const bins = usual[slot] ?? {};
  return { ...usual, [slot]: { ...bins, [bin]: rounded((bins[bin] ?? 0) + 1) } };
}

/** The bin under which a part p of the weight lies, interpolated within it; null where the slot is empty. */
export function usualBin(bins: { readonly [bin: string]: number } | undefined, p: number): number | null {
  if (bins === undefined) return null;
  const sorted = Object.entries(bins)
    .map(([bin, weight]) => ({ bin: Number(bin), weight }))
    .sort((a, b) => a.bin - b.bin);
  const total = sorted.reduce((sum, { weight }) => sum + weight, 0);
  let below = 0;
  for (const { bin, weight } of sorted) {
    if (below + weight >= p * total) return bin + (p * total - below) / weight;
    below += weight;
  }
  return sorted.at(-1)!.bin + 1;
}
