/** What was proven and what it is now, and the data behind the charts that show it. Derived, like findings. */
import type { EpochMs } from './time.ts';

/** The measures that a site is held to. Words and units of each stand in the views. */
export const MEASURES = ['share', 'charge_apart'] as const;
export type Measure = (typeof MEASURES)[number];

/** One proven figure: then, now, limit. */
export interface ProvenFigure {
  readonly site: string;
  readonly measure: Measure;
  /** Unit or pack. */
  readonly subject: string;
  /** For measures that differ between the grid and backup. */
  readonly mode: 'grid' | 'backup' | null;
  /** In the measure's own unit (share: part of 1; charge_apart: points). null: not proven yet. */
  readonly then: number | null;
  /** null: cannot be told now; `because` says why. */
  readonly now: number | null;
  /** How far it may move either way, same unit. */
  readonly limit: number;
  readonly nowAt: EpochMs | null;
  readonly because: string | null;
}

/** A bin behind the scatter of unit power against total power, and the test on it. */
export interface ShareChartBin {
  readonly t: number;
  readonly totalW: number;
  readonly unitW: readonly number[];
  /** The greater of the two sums of each unit's test over its threshold; negative: the sum that watches for less. */
  readonly statistic: readonly number[];
}

/** Share of one phase group in one mode: the baseline, its days, its newest bins. */
export interface ShareChart {
  readonly site: string;
  readonly phase: string;
  readonly mode: 'grid' | 'backup';
  readonly ids: readonly string[];
  /** Below it shares are not judged, W. */
  readonly loadedFromW: number;
  /** null while it is being learnt. */
  readonly baseline: {
    readonly from: EpochMs;
    readonly to: EpochMs;
    readonly bins: number;
    /** P_unit = offsetW + slope · P_total. */
    readonly lines: readonly { readonly offsetW: number; readonly slope: number }[];
    /** Bins of the baseline, thinned, for the scatter. */
    readonly sample: readonly { readonly totalW: number; readonly unitW: readonly number[] }[];
  } | null;
  /** By day, oldest first: least, median and greatest share of each unit over the loaded bins of the day. */
  readonly days: readonly {
    readonly day: EpochMs;
    readonly shares: readonly (readonly [min: number, median: number, max: number])[];
  }[];
  readonly recent: readonly ShareChartBin[];
}
