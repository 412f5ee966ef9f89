/** The faults that a verdict fleet holds, each with what its site must be so that it can be seen. */
import type { FindingKind } from '../../ingest/vocabulary/finding.ts';
import { threePhase } from './plain-site.ts';
import type { Fault, FaultWhat, SimSite, SimUnit } from './plan.ts';
import type { Random } from './random.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

export interface Scenario {
  readonly name: string;
  readonly site?: (random: Random) => Partial<SimSite>;
  readonly faults: (site: SimSite, start: number, random: Random) => Fault[];
}

const wish = (
  kind: FindingKind,
  what: FaultWhat,
  more: Partial<Fault> & {
    readonly subject: string;
    readonly place: number;
    readonly start: number;
    readonly size: number;
  },
): Fault => ({
  also: [],
  cause: null,
  end: null,
  rampMs: 0,
  quantity: null,
  key: null,
  value: null,
  ...more,
  kind,
  what,
});

const WIRED = { law: { grid: 'wired', backup: 'droop' } } as const;
const DROOP = { law: { grid: 'droop', backup: 'droop' } } as const;
const LOADED = { loadShare: 0.34 } as const;
const WHOLE = { isLean: false, hasMode: true } as const;
const unitOf = (site: SimSite, random: Random): [number, string] => {
  const i = random.whole(0, site.units.length - 1);
  return [i, site.units[i]!.id];
};
const packOf = (site: SimSite, random: Random): [number, string] => {
  const k = random.whole(0, site.packs.length - 1);
  return [k, site.packs[k]!.id];
};
/** Adds so much to a path that the share falls by the points asked. */
const pathFor = (site: SimSite, i: number, points: number): number => {
  const ohm = (u: SimUnit): number => (0.0178 * 2 * (u.outM + u.inM)) / u.areaMm2 + u.contactOhm;
  const others = site.units.reduce((sum, u, k) => sum + (k === i ? 0 : 1 / ohm(u)), 0);
  const before = 1 / ohm(site.units[i]!) / (others + 1 / ohm(site.units[i]!));
  const after = before - points / 100;
  return (1 - after) / (after * others) - ohm(site.units[i]!);
};

const onUnit =
  (
    kind: FindingKind,
    what: FaultWhat,
    more: (site: SimSite, i: number, random: Random) => Partial<Fault> & { readonly size: number },
  ) =>
  (site: SimSite, start: number, random: Random): Fault[] => {
    const [place, subject] = unitOf(site, random);
    return [wish(kind, what, { subject, place, start, ...more(site, place, random) })];
  };
const onPack =
  (kind: FindingKind, what: FaultWhat, more: (random: Random) => Partial<Fault> & { readonly size: number }) =>
  (site: SimSite, start: number, random: Random): Fault[] => {
    const [place, subject] = packOf(site, random);
    return [wish(kind, what, { subject, place, start, ...more(random) })];
  };
const onSite =
  (kind: FindingKind, what: FaultWhat, more: (random: Random) => Partial<Fault> & { readonly size: number }) =>
  (_: SimSite, start: number, random: Random): Fault[] => [
    wish(kind, what, { subject: 'site', place: -1, start, ...more(random) }),
  ];

export const SCENARIOS: readonly Scenario[] = [
  {
    name: 'path, step',
    site: () => ({ ...WIRED, ...LOADED }),
    faults: onUnit('share_drift', 'path', (s, i, r) => ({
      cause: 'feeder_resistance',
      size: pathFor(s, i, r.between(5, 11)),
    })),
  },
  {
    name: 'path, ramp',
    site: () => ({ ...WIRED, ...LOADED }),
    faults: onUnit('share_drift', 'path', (s, i, r) => ({
      cause: 'feeder_resistance',
      size: pathFor(s, i, r.between(6, 12)),
      rampMs: r.between(3, 8) * DAY_MS,
    })),
  },
  {
    name: 'setpoint',
    site: () => ({ ...DROOP, ...LOADED }),
    faults: onUnit('share_drift', 'emf', (_, __, r) => ({
      also: ['circulating_power'],
      cause: 'setpoint_offset',
      size: (r.chance(0.5) ? 1 : -1) * r.between(0.8, 1.5),
    })),
  },
  {
    name: 'ceiling',
    site: () => ({ ...WIRED, loadShare: 0.5, ...WHOLE }),
    faults: onUnit('share_drift', 'ceiling', (_, __, r) => ({ cause: 'unit_limited', size: r.between(0.28, 0.38) })),
  },
  {
    name: 'carries nothing',
    site: () => ({ ...WIRED, ...LOADED }),
    faults: onUnit('share_drift', 'open_output', () => ({ cause: 'unit_not_carrying', size: 1 })),
  },
  {
    name: 'meter gain',
    site: () => ({ ...WIRED, ...LOADED, ...WHOLE }),
    faults: onUnit('share_drift', 'meter_gain', (_, __, r) => ({
      cause: 'measurement_scale',
      size: r.chance(0.5) ? r.between(1.25, 1.4) : r.between(0.65, 0.75),
    })),
  },
  {
    name: 'gauge drifts',
    site: () => ({ duty: 'evening' }),
    faults: onPack('soc_divergence', 'gauge_drift', (r) => ({ cause: 'gauge_error', size: r.between(1, 2.5) })),
  },
  {
    name: 'gauge jumps',
    site: () => ({ duty: 'evening' }),
    faults: onPack('soc_divergence', 'gauge_jump', (r) => ({ cause: 'gauge_error', size: r.between(8, 16) })),
  },
  {
    name: 'pack open',
    site: () => ({ duty: 'evening' }),
    faults: onPack('pack_not_carrying', 'pack_open', () => ({ size: 1 })),
  },
  {
    name: 'pack path',
    site: () => ({ duty: 'evening' }),
    faults: onPack('pack_not_carrying', 'pack_path', (r) => ({ also: ['soc_divergence'], size: r.between(4, 9) })),
  },
  {
    name: 'pack capacity',
    site: () => ({ duty: 'evening' }),
    faults: onPack('pack_capacity_loss', 'pack_capacity', (r) => ({
      size: r.between(0.25, 0.4),
      rampMs: r.chance(0.5) ? 0 : 4 * DAY_MS,
    })),
  },
  {
    name: 'cell',
    site: () => ({ duty: 'evening' }),
    faults: onPack('cell_spread', 'cell', (r) => ({ size: r.between(0.05, 0.12) })),
  },
  {
    name: 'overload sags',
    site: () => ({ ...DROOP }),
    faults: onSite('frequency_excursion', 'overload_sag', (r) => ({ cause: 'overload', size: r.between(1.3, 2) })),
  },
  { name: 'overload trips', faults: onSite('output_lost', 'overload_trip', () => ({ size: 1 })) },
  {
    name: 'surplus',
    site: () => ({ acPvW: 9000, duty: 'standby', hasCt: true }),
    faults: onSite('frequency_excursion', 'surplus', () => ({ cause: 'surplus_generation', size: 1 })),
  },
  {
    name: 'hunting',
    site: () => ({ ...DROOP, ...WHOLE }),
    faults: onSite('hunting', 'hunting', (r) => ({ also: ['frequency_excursion'], size: r.between(0.25, 0.6) })),
  },
  {
    name: 'voltage sags',
    faults: onSite('voltage_excursion', 'voltage_sag', (r) => ({ size: r.between(0.12, 0.18) })),
  },
  {
    name: 'frequency meter',
    faults: onUnit('frequency_disagreement', 'frequency_meter', (_, __, r) => ({
      size: (r.chance(0.5) ? 1 : -1) * r.between(0.15, 0.4),
    })),
  },
  {
    name: 'circulating',
    site: () => ({ ...DROOP, loadShare: 0.05 }),
    faults: onUnit('circulating_power', 'emf', (_, __, r) => ({
      subject: 'site',
      also: ['share_drift'],
      size: (r.chance(0.5) ? 1 : -1) * r.between(2.5, 4),
    })),
  },
  {
    name: 'input breaker',
    site: () => WHOLE,
    faults: (site, start, random) =>
      onUnit('single_unit_grid_loss', 'input_breaker', () => ({
        cause: 'input_breaker',
        size: 1,
        end: start + random.between(4, 60) * HOUR_MS,
      }))(site, start, random),
  },
  {
    name: 'phase lost',
    site: (r) => ({ ...WHOLE, units: threePhase(r) }),
    faults: (site, start, random) => {
      const [place, subject] = unitOf(site, random);
      return [
        wish('single_unit_grid_loss', 'phase_lost', {
          cause: 'supply_phase',
          subject,
          place,
          start,
          size: 1,
          value: site.units[place]!.phase,
          end: start + random.between(1, 12) * HOUR_MS,
        }),
      ];
    },
  },
  {
    name: 'link',
    faults: (site, start, random) => {
      const place = random.whole(1, site.units.length - 1);
      return [
        wish('battery_unseen', 'soc_unseen', {
          cause: 'parallel_link',
          subject: site.units[place]!.id,
          place,
          start,
          size: 1,
        }),
      ];
    },
  },
  { name: 'data cable', faults: onSite('battery_unseen', 'soc_unseen_all', () => ({ cause: 'data_cable', size: 1 })) },
  {
    name: 'battery breaker',
    site: () => WHOLE,
    faults: onUnit('battery_unseen', 'battery_breaker', () => ({ cause: 'battery_breaker', size: 1 })),
  },
  {
    name: 'setting',
    faults: (site, start, random) => {
      const [key, value] = random.pick([
        ['low_soc_cutoff_pct', 30],
        ['battery_type', 'lead_acid'],
        ['output_frequency_setpoint_hz', 60],
        ['firmware', '4.0.2'],
      ] as const);
      return onUnit('settings_mismatch', 'setting', () => ({ size: 1, key, value }))(site, start, random);
    },
  },
  {
    name: 'CT turned',
    site: () => ({ hasCt: true, ...WHOLE }),
    faults: (site, start) => [
      wish('ct_reversed', 'ct_turned', { subject: site.units[0]!.id, place: 0, start, size: 1 }),
    ],
  },
  {
    name: 'unit silent',
    faults: (site, start, random) =>
      onUnit('unit_silent', 'unit_silent', () => ({ size: 1, end: start + random.between(1, 30) * HOUR_MS }))(
        site,
        start,
        random,
      ),
  },
  {
    name: 'pack silent',
    faults: (site, start, random) =>
      onPack('pack_silent', 'pack_silent', () => ({ size: 1, end: start + random.between(1, 30) * HOUR_MS }))(
        site,
        start,
        random,
      ),
  },
  {
    name: 'site silent',
    faults: (site, start, random) =>
      onSite('site_silent', 'site_silent', () => ({ size: 1, end: start + random.between(1, 30) * HOUR_MS }))(
        site,
        start,
        random,
      ),
  },
  {
    name: 'stuck pack',
    site: () => ({ duty: 'evening' }),
    faults: (site, start, random) =>
      onPack('stuck_reading', 'stuck', (r) => ({
        size: 1,
        quantity: r.pick(['pack_current_a', 'soc_pct', 'pack_voltage_v']),
      }))(site, start, random),
  },
  {
    name: 'stuck unit',
    site: () => ({ ...LOADED, ...WHOLE }),
    faults: (site, start, random) =>
      onUnit('stuck_reading', 'stuck', (_, __, r) => ({
        also: ['share_drift'],
        size: 1,
        quantity: r.pick(['heatsink_temperature_c', 'output_power_w', 'dc_voltage_v', 'output_current_a']),
      }))(site, start, random),
  },
  {
    name: 'clock',
    site: () => WHOLE,
    faults: (site, start, random) =>
      onUnit('clock_offset', 'clock', (_, __, r) => ({ size: (r.chance(0.5) ? 1 : -1) * r.between(40, 400) }))(
        site,
        start,
        random,
      ),
  },
];
