/** Two nested bands: the inner one for a share of the time, the outer one always. Relative to nominal, %. */
export interface SupplyBand {
  readonly innerPct: readonly [number, number];
  /** Share of the means that must lie in the inner band, %. */
  readonly innerSharePct: number;
  readonly outerPct: readonly [number, number];
}

/** Frequency, 10 s means. Interconnected: over a year; island (no synchronous link): over a week. */
export const EN_50160_FREQUENCY: { readonly [Supply in 'interconnected' | 'island']: SupplyBand } = {
  interconnected: { innerPct: [-1, 1], innerSharePct: 99.5, outerPct: [-6, 4] },
  island: { innerPct: [-2, 2], innerSharePct: 95, outerPct: [-15, 15] },
};

/** Low voltage, 10 min means of the RMS value, over each week. */
export const EN_50160_VOLTAGE: SupplyBand = { innerPct: [-10, 10], innerSharePct: 95, outerPct: [-15, 10] };

export interface Compliance {
  /** Means that were judged. */
  readonly count: number;
  readonly outsideInner: number;
  readonly outsideOuter: number;
  /** Share of the means in the inner band, %; NaN where none was judged. */
  readonly innerSharePct: number;
  /** null where no mean was judged: nothing can be told. */
  readonly complies: boolean | null;
}

/**
 * Counts the means within the bands of EN 50160. A mean on a limit is within.
 *
 * @param means    10 s means of the frequency, Hz, or 10 min means of the RMS voltage, V; NaN marks a gap and is not judged
 * @param nominal  50 Hz or the declared voltage, V; same unit, above 0
 * @param band     the two bands
 * @returns counts and the verdict over the means that are there; whether they span the week or year is the caller's to say
 * @throws RangeError  if nominal is not above 0 or a mean is infinite
 * @see EN 50160, clauses on power frequency and supply voltage variations: complies if N1/N ≤ 1 − share and N2 = 0
 */
export function en50160Compliance(means: ArrayLike<number>, nominal: number, band: SupplyBand): Compliance {
  if (!(nominal > 0 && Number.isFinite(nominal)))
    throw new RangeError(`Cannot judge a supply: nominal ${nominal} is not above 0`);
  const limits = ([low, high]: readonly [number, number]): [number, number] => [
    (nominal * (100 + low)) / 100,
    (nominal * (100 + high)) / 100,
  ];
  const [innerLow, innerHigh] = limits(band.innerPct);
  const [outerLow, outerHigh] = limits(band.outerPct);
  let count = 0;
  let outsideInner = 0;
  let outsideOuter = 0;
  for (let i = 0; i < means.length; i++) {
    const mean = means[i]!;
    if (Number.isNaN(mean)) continue;
    if (!Number.isFinite(mean)) throw new RangeError(`Cannot judge a supply: mean ${mean} at index ${i} is not finite`);
    count++;
    if (mean < innerLow || mean > innerHigh) outsideInner++;
    if (mean < outerLow || mean > outerHigh) outsideOuter++;
  }
  const isShareMet = outsideInner * 100 <= count * (100 - band.innerSharePct);
  return {
    count,
    outsideInner,
    outsideOuter,
    innerSharePct: count === 0 ? Number.NaN : (100 * (count - outsideInner)) / count,
    complies: count === 0 ? null : isShareMet && outsideOuter === 0,
  };
}
