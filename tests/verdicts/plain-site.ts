/** Healthy sites of every sort: units, packs, laws, loads, gateways, outages. */
import type { Law, SimPack, SimSite, SimUnit, Span } from './plan.ts';
import type { Random } from './random.ts';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;
/** 2026-03-02. */
export const FROM_MS = 1_772_409_600_000;

export interface FleetSize {
  readonly sites: number;
  readonly days: number;
  readonly seed: number;
}

export function threePhase(random: Random): SimUnit[] {
  return makeUnits(random, 3, random.pick([5000, 8000]), true);
}

function makeUnits(random: Random, n: number, ratedW: number, isThree: boolean): SimUnit[] {
  const isUnequal = !isThree && random.chance(0.2);
  const base = random.between(4, 8);
  return Array.from({ length: n }, (_, i): SimUnit => {
    const rated = isUnequal && i === n - 1 ? ratedW * 0.625 : ratedW;
    return {
      id: `u${i + 1}`,
      ratedW: rated,
      phase: isThree ? (['L1', 'L2', 'L3'] as const)[i % 3]! : 'L1',
      outM: Math.round(10 * (base + random.between(0, 3))) / 10,
      inM: 6,
      areaMm2: 16,
      contactOhm: random.between(0.004, 0.007),
      droopOhm: (0.35 * 6000) / rated,
      emfV: 231.5 + 0.05 * random.normal(),
      gain: 1 + 0.004 * random.normal(),
      voltOffset: 0.2 * random.normal(),
      offsetMs: 0,
    };
  });
}

function makePacks(random: Random, n: number): SimPack[] {
  const capacityAh = random.pick([100, 200, 280]);
  const hasOther = random.chance(0.2);
  return Array.from({ length: n }, (_, k): SimPack => {
    const ah = hasOther && k === n - 1 ? capacityAh * 1.4 : capacityAh;
    return {
      id: `b${k + 1}`,
      capacityAh: ah,
      ohm: (1.7 / ah) * random.between(0.85, 1.15),
      gaugeGain: 1 + 0.003 * random.normal(),
      startSoc: random.between(88, 92),
      cellSpreadV: random.between(0.004, 0.012),
      offsetMs: 0,
    };
  });
}

export function outagesOf(random: Random, days: number, daytime: boolean): SimSite['outages'] {
  const spans: (Span & { reconnectMs: number })[] = [];
  let t = FROM_MS + random.exponential(3 * DAY_MS) + DAY_MS / 2;
  while (t < FROM_MS + (days - 0.5) * DAY_MS) {
    const hour = ((t - FROM_MS) / HOUR_MS) % 24;
    if (daytime && (hour < 9.5 || hour > 13)) {
      t += 37 * MINUTE_MS;
      continue;
    }
    const minutes = Math.min(300, Math.max(0.5, Math.exp(Math.log(daytime ? 60 : 18) + 1.2 * random.normal())));
    const reconnectMs = random.between(60, 180) * 1000;
    spans.push({ start: Math.round(t), end: Math.round(t + minutes * MINUTE_MS), reconnectMs });
    t += minutes * MINUTE_MS + reconnectMs + HOUR_MS + random.exponential((daytime ? 2 : 4) * DAY_MS);
  }
  return spans;
}

/** A healthy site of any sort. */
export function plainSite(n: number, { days, seed }: FleetSize, random: Random): SimSite {
  const law = random.pick<{ grid: Law; backup: Law }>([
    { grid: 'wired', backup: 'droop' },
    { grid: 'wired', backup: 'link' },
    { grid: 'droop', backup: 'droop' },
  ]);
  const stepMs = random.pick([30_000, 30_000, 60_000]);
  const units = makeUnits(
    random,
    random.pick([2, 2, 3, 4]),
    random.pick([5000, 6000, 8000, 10000]),
    random.chance(0.12),
  );
  const packs = makePacks(random, random.pick([2, 3, 3, 4]));
  const offset = (): number => Math.round(random.next() * 0.9 * stepMs);
  const updateAt = FROM_MS + Math.floor(random.between(0.3, 0.9) * days) * DAY_MS + 11 * HOUR_MS;
  return {
    id: `site-${n + 1}`,
    seed: seed * 100_000 + n,
    from: FROM_MS,
    days,
    stepMs,
    units: units.map((u) => ({ ...u, offsetMs: offset() })),
    packs: packs.map((p) => ({ ...p, offsetMs: offset() })),
    law,
    saysLaw: random.chance(0.5),
    duty: random.pick(['standby', 'evening', 'evening']),
    pvW: random.chance(0.3) ? units[0]!.ratedW * 0.6 : 0,
    acPvW: random.chance(0.12) ? units[0]!.ratedW : 0,
    hasCt: random.chance(0.7),
    hasMode: random.chance(0.85),
    isLean: random.chance(0.25),
    hasBank: random.chance(0.4),
    socStep: random.pick([0.1, 0.1, 1]),
    powerStepW: random.pick([1, 1, 1, 10]),
    jitterMs: random.pick([200, 2000, 6000]),
    dropShare: random.pick([0, 0.001, 0.01]),
    loadShare: random.pick([0.1, 0.2, 0.25, 0.3, 0.35]),
    outages: outagesOf(random, days, false),
    brownouts: random.chance(0.3)
      ? [{ start: FROM_MS + 9.4 * DAY_MS, end: FROM_MS + 9.4 * DAY_MS + 7 * MINUTE_MS }]
      : [],
    updates: random.chance(0.25) ? units.map((_, i) => updateAt + i * 9 * MINUTE_MS) : [],
    replaced: random.chance(0.15)
      ? { place: 1, at: FROM_MS + Math.floor(0.6 * days) * DAY_MS, contactOhm: random.between(0.003, 0.012) }
      : null,
    isHot: random.chance(0.3),
    faults: [],
  };
}
