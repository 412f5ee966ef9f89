/** Where a plot has no readings at all, with how long: said in the gap where it is wide enough. */
import { lengthText } from './figures.ts';
import type { Plot, Span, StackedWindow } from './plot.ts';
import type { Saying } from './saying.ts';

/** Part of the window from which words fit into a gap. */
const WIDE_PART = 0.1;

/** Stretches between readings of a series that its nulls leave open, in order. */
function openStretches({ t, mean }: Plot['traces'][number]['series']): { from: number; to: number }[] {
  const open: { from: number; to: number }[] = [];
  let last: number | null = null;
  let isOpen = false;
  for (let i = 0; i < t.length; i++) {
    if (mean[i] === null) {
      isOpen = last !== null;
      continue;
    }
    if (isOpen && last !== null) open.push({ from: last, to: t[i]! });
    last = t[i]!;
    isOpen = false;
  }
  return open;
}

/** Gaps that all traces of the plot have, and that are wide enough for words. */
export function plotGaps({ traces }: Pick<Plot, 'traces'>, window: StackedWindow, { words }: Saying): Span[] {
  const [first, ...others] = traces.map(({ series }) => openStretches(series));
  if (first === undefined) return [];
  const shared = others.reduce(
    (gaps, own) =>
      gaps.flatMap((gap) =>
        own
          .map((other) => ({ from: Math.max(gap.from, other.from), to: Math.min(gap.to, other.to) }))
          .filter(({ from, to }) => to > from),
      ),
    first,
  );
  return shared
    .filter(({ from, to }) => to - from >= WIDE_PART * (window.to - window.from))
    .map(({ from, to }) => ({ from, to, text: `${words.chart.noReadings}\n${lengthText(to - from)}` }));
}
