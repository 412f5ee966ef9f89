/** The line on which a unit stands now, beside the one that was proven: which of slope and offset moved. */
import type { ApiShareChart } from '../contract/figure.ts';
import { figureText, powerText } from './figures.ts';
import type { Saying } from './saying.ts';

export interface AskedLine {
  readonly chart: ApiShareChart;
  readonly unit: string;
  /** Start of a drift: what was before it is not now. */
  readonly onset?: number | null;
}

export interface PresentLine {
  readonly offsetW: number;
  readonly slope: number;
  /** Which of the two explains the newest bins better; null without a proven line to compare with. */
  readonly moved: 'slope' | 'offset' | null;
  /** Mean total of the bins it rests on, W. */
  readonly totalMeanW: number;
}

/** Bins behind the present line: about a loaded day, as the finding's own figures. */
const NOW_BINS = 48;
/** An offset is told only where it leaves clearly less unexplained than a slope does. */
const CLEARLY = 0.7;

export function placeOf({ chart, unit }: Pick<AskedLine, 'chart' | 'unit'>): number {
  const place = chart.ids.indexOf(unit);
  if (place < 0) throw new RangeError(`Cannot draw the share of ${unit}: the chart has ${chart.ids.join(', ')}`);
  return place;
}

/** The newest bins, none from before the onset. */
export function binsNow({ chart, onset = null }: AskedLine): ApiShareChart['recent'] {
  return chart.recent.filter(({ t }) => onset === null || t >= onset).slice(-NOW_BINS);
}

/**
 * One figure is fitted to the newest bins, the other kept as proven: the slope through the proven offset, or the offset
 * at the proven slope, by least squares; the one that leaves less unexplained is told. Both at once would be fitted to
 * noise, because a day's loads lie close together.
 *
 * @returns null where there is no bin
 */
export function presentLine(asked: AskedLine): PresentLine | null {
  const bins = binsNow(asked);
  if (bins.length === 0) return null;
  const place = placeOf(asked);
  const proven = asked.chart.baseline?.lines[place] ?? null;
  const offsetW = proven?.offsetW ?? 0;
  const xx = bins.reduce((sum, { totalW }) => sum + totalW * totalW, 0);
  const slope = bins.reduce((sum, { totalW, unitW }) => sum + totalW * (unitW[place]! - offsetW), 0) / xx;
  const totalMeanW = bins.reduce((sum, { totalW }) => sum + totalW, 0) / bins.length;
  if (!Number.isFinite(slope)) return null;
  if (proven === null) return { offsetW, slope, moved: null, totalMeanW };
  const moved = bins.reduce((sum, { totalW, unitW }) => sum + unitW[place]! - proven.slope * totalW, 0) / bins.length;
  const left = (lineOffsetW: number, lineSlope: number): number =>
    bins.reduce((sum, { totalW, unitW }) => sum + (unitW[place]! - lineOffsetW - lineSlope * totalW) ** 2, 0);
  return left(moved, proven.slope) < CLEARLY * left(offsetW, slope)
    ? { offsetW: moved, slope: proven.slope, moved: 'offset', totalMeanW }
    : { offsetW, slope, moved: 'slope', totalMeanW };
}

/** What the difference between the two lines means, in watts at the load of now; empty without both lines. */
export function sayPresentLine(asked: AskedLine & { readonly limit: number }, { words }: Saying): string {
  const now = presentLine(asked);
  const proven = asked.chart.baseline?.lines[placeOf(asked)];
  if (now === null || proven === undefined) return '';
  const at = (line: { readonly offsetW: number; readonly slope: number }): number =>
    line.offsetW + line.slope * now.totalMeanW;
  const offW = at(now) - at(proven);
  const isWithin = Math.abs(offW) <= asked.limit * now.totalMeanW;
  return words.site.lines({
    unit: asked.unit,
    load: powerText(now.totalMeanW),
    now: powerText(at(now)),
    proven: powerText(at(proven)),
    off: powerText(Math.abs(offW)),
    isLess: offW < 0,
    isWithin,
    moved: now.moved,
    slopes: [proven.slope, now.slope].map((slope) => figureText(slope * 100, 1)) as [string, string],
    offsets: [proven.offsetW, now.offsetW].map((w) => powerText(w)) as [string, string],
  });
}
