/** The site record as the rest of Kilter sees it: parsed, defaults filled in, every reference resolved. */
import type { EpochMs } from '../vocabulary/time.ts';

export type Phase = 'L1' | 'L2' | 'L3' | 'split' | 'three';
export type SharingLaw = 'wired' | 'droop' | 'link';

/** One way; both conductors are counted where resistance is asked. */
export interface Cable {
  readonly length_m: number;
  readonly area_mm2: number;
  readonly material: 'copper' | 'aluminium';
}

export interface UnitRecord {
  readonly id: string;
  readonly role: 'lead' | 'follower';
  readonly rated_power_w: number;
  readonly phase: Phase;
  readonly serial: string | null;
  readonly chain_position: number | null;
  readonly terminated: boolean | null;
  readonly output_cable: Cable | null;
  readonly input_cable: Cable | null;
}

export interface PackRecord {
  readonly id: string;
  readonly capacity_ah: number;
  readonly nominal_voltage_v: number;
  readonly cells_in_series: number;
  readonly chemistry: string;
  readonly serial: string | null;
}

export interface MeterRecord {
  readonly id: string;
  readonly role: 'supply' | 'generator' | 'ac_pv' | 'load';
}

/** One document of a site: what holds from `validFrom` on. */
export interface SiteRecord {
  readonly site: string;
  /** Midnight UTC of `valid_from`; null for the first document, which holds from ever. */
  readonly validFrom: EpochMs | null;
  readonly name: string;
  readonly timezone: string;
  readonly supply: {
    readonly nominal_voltage_v: number;
    readonly nominal_frequency_hz: number;
    readonly phases: 1 | 2 | 3;
  };
  readonly sample_interval_s: number;
  readonly units: readonly UnitRecord[];
  readonly packs: readonly PackRecord[];
  readonly battery_link: { readonly pack: string; readonly unit: string } | null;
  readonly ct: readonly { readonly unit: string; readonly phase: Phase | null }[];
  readonly meters: readonly MeterRecord[];
  /** A unit's id, 'external' or 'none'; null where the record does not say. */
  readonly neutral_earth_bond: string | null;
  readonly sharing: { readonly grid: SharingLaw | null; readonly backup: SharingLaw | null };
  readonly reserve_soc_pct: number | null;
  readonly ac_coupled_pv: boolean;
  /** [low, high] Hz; default nominal ± 2 % (EN 50160, islanded, 95 % of a week). */
  readonly island_frequency_band_hz: readonly [number, number];
  /** [low, high] % of nominal; default ± 10. */
  readonly island_voltage_band_pct: readonly [number, number];
  /** Midnight UTC of the day, null where the record does not say. */
  readonly commissioned: EpochMs | null;
  readonly group: string | null;
  readonly limits: { readonly share_points: number; readonly heat_w: number; readonly changeover_ms: number };
  readonly expected_settings: Readonly<Record<string, string | number | boolean>>;
}

/** All documents of one site, in order of `validFrom`; never empty. */
export interface SiteHistory {
  readonly site: string;
  readonly documents: readonly [SiteRecord, ...SiteRecord[]];
}
