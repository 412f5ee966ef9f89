/** The fleet: the sites with a story, and as many more as are asked for, half of them healthy. */
import { epochMs, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { streetSite } from './names.ts';
import { createPrng, type Prng } from './prng.ts';
import type { Period, SiteKind, SitePlan } from './site-plan.ts';
import { instantIn, makePacks, makeSite, makeUnits, STORIES } from './stories.ts';

const KINDS: readonly SiteKind[] = ['shop', 'clinic', 'bakery', 'school', 'workshop', 'farm'];
const LAWS = [
  { grid: 'wired', backup: 'droop' },
  { grid: 'wired', backup: 'link' },
  { grid: 'droop', backup: 'droop' },
] as const satisfies readonly SitePlan['sharing'][];

/** What a faulty site beyond the twelve has in place of the plain one. */
type Trouble = (plain: SitePlan, period: Period) => Partial<SitePlan>;

const TROUBLES: readonly Trouble[] = [
  (_, period) => ({
    sharing: LAWS[0],
    faults: [
      { what: 'output_open', unit: 'u2', start: instantIn(period, 0.43, 9), end: null },
      { what: 'pack_line_dead', pack: 'p2', start: instantIn(period, 0.5, 15), end: null },
    ],
  }),
  (_, period) => ({
    sharing: LAWS[0],
    bankLine: false,
    faults: [
      { what: 'data_cable_broken', start: instantIn(period, 0.43, 8), end: null },
      {
        what: 'loose_terminal',
        unit: 'u1',
        addedOhm: 0.015,
        rampDays: 0,
        start: instantIn(period, 0.5, 12),
        end: null,
      },
    ],
  }),
  (_, period) => {
    const at = epochMs(instantIn(period, 0.43, 3) + 10 * MINUTE_MS);
    const silent = instantIn(period, 0.57, 8);
    return {
      replacement: { unit: 'u2', at, serial: 'T-2417', contactOhm: 0.0062 },
      faults: [
        {
          what: 'wrong_setting',
          unit: 'u2',
          key: 'low_soc_cutoff_pct',
          value: 35,
          emfShiftV: 0,
          after: 'a replacement',
          start: epochMs(at + 8 * MINUTE_MS),
          end: null,
        },
        { what: 'unit_gateway_dead', unit: 'u1', start: silent, end: epochMs(silent + 6 * HOUR_MS) },
      ],
    };
  },
  (_, period) => ({
    duty: 'evening',
    faults: [
      { what: 'pack_capacity', pack: 'p1', factor: 0.68, rampDays: 4, start: instantIn(period, 0.43, 5), end: null },
      { what: 'unit_gateway_dead', unit: 'u2', start: instantIn(period, 0.5, 10), end: null },
    ],
  }),
  (_, period) => ({
    duty: 'evening',
    sharing: LAWS[0],
    faults: [
      { what: 'pack_resistance', pack: 'p2', factor: 4, start: instantIn(period, 0.43, 7), end: null },
      { what: 'weak_voltage', sagOhm: 0.9, start: instantIn(period, 0.45, 0), end: null },
    ],
  }),
  (plain, period) => {
    const at = epochMs(instantIn(period, 0.43, 3) + 10 * MINUTE_MS);
    return {
      sharing: LAWS[0],
      replacement: { unit: plain.units[1]!.id, at, serial: 'T-2533', contactOhm: 0.005 },
      faults: [
        {
          what: 'wrong_setting',
          unit: 'u2',
          key: 'battery_type',
          value: 'lead_acid',
          emfShiftV: 0,
          after: 'a replacement',
          start: epochMs(at + 8 * MINUTE_MS),
          end: null,
        },
        { what: 'overload', addedShare: 0.72, trips: false, start: instantIn(period, 0.45, 0), end: null },
      ],
    };
  },
];

/** A plain healthy site whose make-up varies: units, packs, cables, laws, PV, gateway. */
function plainSite(n: number, prng: Prng): SitePlan {
  const kind = KINDS[n % KINDS.length]!;
  const unitCount = 2 + (n % 3);
  const ratedW = [5000, 6000, 8000, 10000][prng.whole(0, 3)]!;
  const packCount = Math.min(5, unitCount + (ratedW >= 8000 ? 1 : 0));
  const capacityAh = 200;
  return makeSite({
    ...streetSite(n, kind),
    kind,
    units: makeUnits({
      ratedW: Array.from({ length: unitCount }, () => ratedW),
      outputM: Array.from({ length: unitCount }, () => Math.round(prng.between(50, 80)) / 10),
      serialFrom: 3000 + 40 * n,
    }),
    packs: makePacks(
      Array.from({ length: packCount }, () => capacityAh),
      Array.from({ length: packCount }, () => prng.between(7.8, 8.8)),
    ),
    sharing: LAWS[n % LAWS.length]!,
    duty: prng.chance(0.3) ? 'standby' : 'evening',
    pvShare: prng.chance(0.4) ? prng.between(0.3, 0.6) : 0,
    bankLine: prng.chance(0.5),
    timeForm: prng.chance(0.5) ? 'epoch_ms' : 'rfc3339',
    lean: prng.chance(0.25),
    spreadShare: prng.between(0.05, 0.3),
    heatWave: prng.chance(0.3),
    brownout: prng.chance(0.3),
  });
}

/** The nth site beyond the twelve: healthy and faulty by turns. */
function furtherSite(n: number, seed: number, period: Period): SitePlan {
  const plain = plainSite(n, createPrng(seed, `further site ${n}`));
  if (n % 2 === 0) return plain;
  const trouble = TROUBLES[((n - 1) / 2) % TROUBLES.length]!;
  return { ...plain, ...trouble(plain, period) };
}

/** @param options.sites how many sites; the first twelve have their own stories */
export function planFleet(options: {
  readonly seed: number;
  readonly period: Period;
  readonly sites: number;
}): SitePlan[] {
  const { seed, period, sites } = options;
  if (!Number.isInteger(sites) || sites < 1)
    throw new RangeError(`Cannot plan a fleet of ${sites} sites: expected a whole number from 1`);
  return Array.from({ length: sites }, (_, n) => {
    const story = STORIES[n];
    return story === undefined ? furtherSite(n - STORIES.length, seed, period) : story(period);
  });
}
