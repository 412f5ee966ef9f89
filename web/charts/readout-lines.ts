/** What stands under the cursor of a chart: the nearest figure of each of its lines, as text. Pure. */
import type { Chart } from '../../server/views/chart.ts';
import { partsOf } from './placed-option.ts';

export interface ReadoutLine {
  /** 'Grid voltage', 'Load by unit u1' */
  readonly name: string;
  /** '230.1 V' */
  readonly figure: string;
}

type Point = readonly [t: number, value: number | null];

/** Place of the point nearest in time; -1 in an empty list. Points are in order. */
export function nearest(points: readonly Point[], t: number): number {
  let low = 0;
  let high = points.length - 1;
  if (high < 0) return -1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (points[middle]![0] <= t) low = middle;
    else high = middle;
  }
  return Math.abs(points[low]![0] - t) <= Math.abs(points[high]![0] - t) ? low : high;
}

interface Line {
  readonly name: string;
  readonly unit: string;
  readonly points: readonly Point[];
  readonly figure: (value: number) => string;
}

const plainTitle = (text: unknown): { name: string; unit: string } => {
  const parts = /^\{b\|(.*?)\} \{u\|(.*)\}$/.exec(String(text));
  return { name: parts?.[1] ?? '', unit: parts?.[2] ?? '' };
};

/** The named lines of a chart; bands and marks have no name of their own. */
export function linesOf(chart: Chart): readonly Line[] {
  const titles = partsOf(chart.option.title).map(({ text }) => plainTitle(text));
  return partsOf(chart.option.series).flatMap((series) => {
    if (series.type !== 'line' || typeof series.name !== 'string') return [];
    const index = typeof series.yAxisIndex === 'number' ? series.yAxisIndex : 0;
    const title = titles[index] ?? { name: chart.title, unit: chart.unit };
    const tooltip = series.tooltip as { readonly valueFormatter: (value: number) => string } | undefined;
    return [
      {
        name: `${title.name} ${title.name.includes(series.name) ? '' : series.name}`.trim(),
        unit: title.unit,
        points: series.data as readonly Point[],
        figure: tooltip?.valueFormatter ?? String,
      },
    ];
  });
}

/** The instant of a reading that is nearest to `t`, or that `steps` readings away from it; null without readings. */
export function instantNear(lines: readonly Line[], t: number, steps = 0): number | null {
  const longest = [...lines].sort((a, b) => b.points.length - a.points.length)[0];
  if (longest === undefined || longest.points.length === 0) return null;
  const at = Math.min(Math.max(nearest(longest.points, t) + steps, 0), longest.points.length - 1);
  return longest.points[at]![0];
}

/** `farMs`: a reading further away than this is not at the cursor, and nothing is said of it. */
export function readout(lines: readonly Line[], t: number, farMs: number): readonly ReadoutLine[] {
  return lines.flatMap(({ name, unit, points, figure }) => {
    const point = points[nearest(points, t)];
    if (point === undefined || point[1] === null || Math.abs(point[0] - t) > farMs) return [];
    const text = figure(point[1]);
    return [{ name, figure: unit === '' ? text : `${text}\u00a0${unit}` }];
  });
}
