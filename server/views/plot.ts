/** What one plot over a time axis shows, before it is drawn. */
import type { Series } from '../contract/series.ts';
import type { MarkedLine } from './chart.ts';

export interface Trace {
  readonly series: Series;
  /** At the line's end: 'u1'. */
  readonly name: string;
  /** Place of the unit or pack, for its hue; null: ink. */
  readonly place: number | null;
}

/** A stretch of a plot with its words in it. */
export interface Span {
  readonly from: number;
  readonly to: number;
  readonly text: string;
}

export interface Plot {
  readonly title: string;
  /** V, kW … */
  readonly unit: string;
  /** Shown figure = reading × factor: 0.001 for kW. */
  readonly factor: number;
  readonly decimals: number;
  readonly height: number;
  readonly traces: readonly Trace[];
  /** Beyond is shaded. */
  readonly low: number | null;
  readonly high: number | null;
  readonly lines: readonly MarkedLine[];
  /** At least this is shown; what reads beyond makes it longer, unless the plot is cut. */
  readonly range: { readonly min?: number; readonly max?: number };
  /** What reads beyond the range runs out of the plot: a voltage that is gone. */
  readonly isCut?: boolean;
  /** Said of this plot alone. */
  readonly spans?: readonly Span[];
}

export interface StackedWindow {
  readonly from: number;
  readonly to: number;
}

/** An instant, marked through all plots. */
export interface Instant {
  readonly t: number;
  readonly text: string;
}
