/** Fleets of sites that differ in every healthy way, half of them with one fault of a list. */
import { type FleetSize, FROM_MS, outagesOf, plainSite } from './plain-site.ts';
import type { SimSite } from './plan.ts';
import { Random } from './random.ts';
import { SCENARIOS } from './scenarios.ts';

const DAY_MS = 86_400_000;

export interface PlannedSite {
  readonly site: SimSite;
  readonly scenario: string;
}

/** Site n of a fleet: healthy by turns, else with the next fault of the list. */
export function planSite(n: number, size: FleetSize, isHealthy = n % 2 === 0): PlannedSite {
  const random = new Random(size.seed, n, 9);
  const plain = plainSite(n, size, random);
  if (isHealthy) return { site: plain, scenario: 'healthy' };
  const scenario = SCENARIOS[Math.floor(n / 2) % SCENARIOS.length]!;
  const changed: SimSite = { ...plain, replaced: null, updates: [], ...scenario.site?.(random) };
  const isDaytime = scenario.name === 'surplus';
  // Units that share nothing can't drift apart.
  const units =
    scenario.name === 'phase lost' ? changed.units : changed.units.map((u) => ({ ...u, phase: 'L1' as const }));
  const shaped: SimSite = {
    ...changed,
    units,
    outages: isDaytime ? outagesOf(random, size.days, true) : changed.outages,
  };
  const start = Math.round(FROM_MS + random.between(0.5, 0.62) * size.days * DAY_MS);
  return { site: { ...shaped, faults: scenario.faults(shaped, start, random) }, scenario: scenario.name };
}
