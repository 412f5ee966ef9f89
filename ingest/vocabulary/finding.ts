import type { EpochMs } from './time.ts';

export const FINDING_KINDS = [
  'share_drift',
  'soc_divergence',
  'frequency_excursion',
  'voltage_excursion',
  'frequency_disagreement',
  'hunting',
  'circulating_power',
  'output_lost',
  'single_unit_grid_loss',
  'battery_unseen',
  'settings_mismatch',
  'ct_reversed',
  'pack_not_carrying',
  'cell_spread',
  'pack_capacity_loss',
  'unit_silent',
  'pack_silent',
  'site_silent',
  'stuck_reading',
  'clock_offset',
  'slow_changeover',
] as const;
export type FindingKind = (typeof FINDING_KINDS)[number];

/** The causes each kind may name; kinds that are not here have none. */
export const CAUSES = {
  share_drift: ['feeder_resistance', 'setpoint_offset', 'unit_limited', 'unit_not_carrying', 'measurement_scale'],
  soc_divergence: ['gauge_error', 'pack_not_carrying', 'capacity_loss'],
  frequency_excursion: ['overload', 'surplus_generation', 'hunting', 'unexplained'],
  battery_unseen: ['data_cable', 'parallel_link', 'setting', 'battery_breaker'],
  single_unit_grid_loss: ['input_breaker', 'supply_phase'],
} as const satisfies { readonly [Kind in FindingKind]?: readonly string[] };
export type Cause = (typeof CAUSES)[keyof typeof CAUSES][number];

/**
 * urgent: heat, output lost, or output about to be lost. soon: the next grid loss is at risk.
 * plan: to be done at the next visit. info: worth knowing, nobody is asked to act.
 */
export const SEVERITIES = ['urgent', 'soon', 'plan', 'info'] as const;
export type Severity = (typeof SEVERITIES)[number];

export interface WeighedCause {
  readonly cause: Cause;
  /** 0 to 1; the weights of a finding sum to 1. */
  readonly weight: number;
}

export type EvidenceValue = string | number | boolean | null | readonly (string | number)[];

/** A verdict: what changed, since when, why, and the figures it rests on. */
export interface Finding {
  readonly site: string;
  readonly kind: FindingKind;
  /** Id of the unit or pack at fault, `site` for the whole, null where it cannot be told which of `candidates`. */
  readonly subject: string | null;
  readonly candidates?: readonly string[];
  /** Best estimate of when it began. */
  readonly start: EpochMs;
  /** Time of the newest reading needed before it could first be raised, had the readings come in live. */
  readonly detectedAt: EpochMs;
  /** null while it lasts. */
  readonly end: EpochMs | null;
  /** Time of the newest reading needed before its end could be told; only while findings are joined. */
  readonly endToldAt?: EpochMs;
  readonly severity: Severity;
  /** What the figures are of, in words: 'share of output power'. */
  readonly measure: string;
  readonly value: number | null;
  readonly baseline: number | null;
  readonly limit: number | null;
  /** Most likely first. */
  readonly causes: readonly WeighedCause[];
  readonly evidence: Readonly<Record<string, EvidenceValue>>;
}

/** Something that could not be judged, and why: an answer, not a failure. */
export interface CannotTell {
  readonly site: string;
  readonly kind: FindingKind;
  readonly subject: string;
  readonly because: string;
}

/** A grid loss with the site on its own. Power W, energy Wh, charge %, voltage V, frequency Hz. */
export interface BackupEvent {
  readonly site: string;
  readonly start: EpochMs;
  /** null while it lasts. */
  readonly end: EpochMs | null;
  /** How much earlier it may have begun: time from the last reading on the grid. */
  readonly startUncertaintyS: number;
  /** true if the output never left the site's band while on its own. */
  readonly held: boolean;
  readonly outputLostS: number;
  readonly occasion: 'grid_loss' | 'test' | 'unknown';
  readonly energyWh: number | null;
  readonly peakW: number | null;
  readonly socStartPct: number | null;
  readonly socEndPct: number | null;
  readonly frequencyMinHz: number | null;
  readonly frequencyMaxHz: number | null;
  readonly voltageMinV: number | null;
  readonly voltageMaxV: number | null;
  readonly units: Readonly<Record<string, { readonly energyWh: number | null }>>;
}
