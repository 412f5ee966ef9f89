/** Names at the ends of lines: lines that end at one place share one name, so that no two names lie on each other. */
import { type AxisRange, type ChartInk, nameColor } from './chart.ts';
import type { Plot, Trace } from './plot.ts';

/** Names closer than this lie on each other, px. */
const APART_PX = 14;

const lastOf = ({ series: { mean } }: Trace): number | null => mean.findLast((value) => value !== null) ?? null;

/** 'p1–p4' of ids that follow each other, else 'u1, u3'. */
export function joinIds(ids: readonly string[]): string {
  const parts = ids.map((id) => /^(.*?)(\d+)$/.exec(id));
  const [, stem, first] = parts[0] ?? [];
  const follow = parts.every((part, i) => part !== null && part[1] === stem && Number(part[2]) === Number(first) + i);
  return ids.length > 2 && follow ? `${ids[0]}–${ids.at(-1)}` : ids.join(', ');
}

/** The label of each trace of a plot, in their order; traces that end together leave theirs to the first of them. */
export function lineEndNames({ traces, factor, height }: Plot, { min, max }: AxisRange, ink: ChartInk): object[] {
  const apart = ((max - min) * APART_PX) / height;
  const ends = traces
    .map((trace, place) => ({ place, last: lastOf(trace) }))
    .filter((end): end is { place: number; last: number } => end.last !== null && traces[end.place]!.name !== '')
    .sort((a, b) => a.last - b.last);
  const groups: { place: number; last: number }[][] = [];
  for (const end of ends) {
    const own = groups.at(-1);
    if (own !== undefined && (end.last - own.at(-1)!.last) * factor < apart) own.push(end);
    else groups.push([end]);
  }
  const labels: object[] = traces.map(() => ({ show: false }));
  for (const group of groups) {
    const places = group.map(({ place }) => place).sort((a, b) => a - b);
    const [first] = places as [number];
    const own = traces[first]!.place;
    const color = places.length > 1 || own === null ? ink.ink2 : nameColor(own, ink);
    const formatter = joinIds(places.map((place) => traces[place]!.name));
    labels[first] = { show: true, formatter, color, fontFamily: ink.font, fontSize: 12 };
  }
  return labels;
}
