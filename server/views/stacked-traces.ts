/** Plots over one shared time axis: the form of the event page, of packs, and of the readings explorer. */
import type { Series } from '../contract/series.ts';
import {
  type AxisRange,
  beyondAreas,
  type Chart,
  type ChartInk,
  isDouble,
  levelLines,
  PLOT_LEFT,
  PLOT_RIGHT,
  timeAxis,
  traceStyle,
  valueAxis,
} from './chart.ts';
import { figureText, quantityLook } from './figures.ts';
import { lineEndNames } from './line-end-names.ts';
import type { Instant, Plot, StackedWindow, Trace } from './plot.ts';
import { plotGaps } from './plot-gaps.ts';
import type { Saying } from './saying.ts';
import { tableOfPlots } from './traces-table.ts';

const TITLE_HEIGHT = 26;
const AXIS_HEIGHT = 28;
const PLOT_GAP = 8;
/** Over the first plot's title, for the words at marked instants. */
const INSTANTS_HEIGHT = 30;
const INSTANT_LINE = 14;
/** Of an axis whose readings are all one. */
const LEAST_SPAN = 1;
const PAD = 0.06;

const scaled = (value: number | null, factor: number): number | null => (value === null ? null : value * factor);

/** What the plot must show: its range, its limits, its readings with their least and greatest. */
export function rangeOf({ traces, factor, range, lines, isCut = false }: Plot): AxisRange {
  let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (const { series } of traces) {
    for (const values of [series.min ?? series.mean, series.max ?? series.mean]) {
      for (const value of values) {
        if (value === null) continue;
        if (value < low) low = value;
        if (value > high) high = value;
      }
    }
  }
  const read = low <= high && !(isCut && range.min !== undefined && range.max !== undefined);
  const [least, greatest] = read ? [low * factor, high * factor] : [Number.NaN, Number.NaN];
  const known = [least, greatest, range.min ?? Number.NaN, range.max ?? Number.NaN, ...lines.map(({ at }) => at)];
  const all = known.filter((value) => !Number.isNaN(value));
  if (all.length === 0) return { min: 0, max: LEAST_SPAN };
  const [min, max] = [Math.min(...all), Math.max(...all)];
  const pad = Math.max((max - min) * PAD, max - min === 0 ? LEAST_SPAN / 2 : 0);
  return {
    min: range.min !== undefined && !(least < range.min) ? Math.min(range.min, min) : min - pad,
    max: range.max !== undefined && !(greatest > range.max) ? Math.max(range.max, max) : max + pad,
  };
}

/** Least to greatest of each bucket as one band: two stacked lines, the upper one filled down to the lower. */
function envelope({ series, place }: Trace, plot: Plot, index: number, ink: ChartInk): object[] {
  const { min, max, t } = series;
  if (min === undefined || max === undefined) return [];
  const color = place === null ? ink.ink3 : traceStyle(place, ink).color;
  const part = {
    type: 'line',
    xAxisIndex: index,
    yAxisIndex: index,
    silent: true,
    symbol: 'none',
    lineStyle: { opacity: 0 },
    animation: false,
  };
  const stack = `${index} ${series.of}`;
  return [
    { ...part, stack, stackStrategy: 'all', data: t.map((at, i) => [at, scaled(min[i]!, plot.factor)]) },
    {
      ...part,
      stack,
      stackStrategy: 'all',
      areaStyle: { color, opacity: 0.22 },
      data: t.map((at, i) => {
        const [low, high] = [min[i]!, max[i]!];
        return [at, low === null || high === null ? null : (high - low) * plot.factor];
      }),
    },
  ];
}

/** What stands under the cursor: a word for a state. */
const figureOf =
  ({ words }: Series, { factor, decimals }: Plot) =>
  (value: number): string =>
    words?.[Math.round(value / factor)] ?? figureText(value, decimals);

function lines(plot: Plot, range: AxisRange, index: number, ink: ChartInk): object[] {
  const names = lineEndNames(plot, range, ink);
  return plot.traces.flatMap((trace, i) => {
    const { series, name, place } = trace;
    const style = place === null ? { color: ink.ink, type: 'solid', width: 1.6 } : traceStyle(place, ink);
    const data = series.t.map((at, j) => [at, scaled(series.mean[j]!, plot.factor)]);
    const part = {
      type: 'line',
      xAxisIndex: index,
      yAxisIndex: index,
      symbol: 'none',
      animation: false,
      connectNulls: false,
      step: series.words === null ? false : 'end',
      data,
    };
    // A double line lies under the single ones: it is wider, and would hide them.
    const z = place !== null && isDouble(place) ? 2 : 3;
    const line = {
      ...part,
      z,
      name,
      lineStyle: style,
      itemStyle: { color: style.color },
      endLabel: names[i],
      labelLayout: { moveOverlap: 'shiftY' },
      tooltip: { valueFormatter: figureOf(series, plot) },
    };
    const paper = { ...part, z, silent: true, lineStyle: { color: ink.ground, width: 1 } };
    return place !== null && isDouble(place) ? [line, paper] : [line];
  });
}

/** Carries limits, shade, gaps and instants, even where a plot has no readings. */
function frame(plot: Plot, range: AxisRange, index: number, on: Drawn): object[] {
  const { window, instants, saying, ink } = on;
  const part = { type: 'line', xAxisIndex: index, yAxisIndex: index, silent: true, data: [] };
  const text = { color: ink.ink2, fontFamily: ink.font, fontSize: 12 };
  const marked = instants.map(({ t, text: formatter }, place) => ({
    xAxis: t,
    lineStyle: { color: ink.ink, width: 1, type: 'solid' },
    label: {
      ...text,
      show: index === 0,
      formatter,
      position: 'end',
      // Clear of the plot's own title, and of each other however near they are: each on a line of its own.
      distance: [0, TITLE_HEIGHT - 2 + INSTANT_LINE * place],
      align: place === 0 ? 'left' : 'right',
    },
  }));
  const levels = levelLines(plot.lines, ink) as { data: readonly object[] };
  const spans = [...(plot.spans ?? []), ...plotGaps(plot, window, saying)];
  return [
    {
      ...part,
      markArea: beyondAreas(plot.low, plot.high, range, ink),
      markLine: { ...levels, data: [...levels.data, ...marked] },
    },
    {
      ...part,
      markArea: {
        silent: true,
        itemStyle: { color: 'transparent' },
        label: { ...text, position: 'inside' },
        data: spans.map(({ from, to, text: name }) => [{ xAxis: from, name }, { xAxis: to }]),
      },
    },
  ];
}

interface Drawn {
  readonly window: StackedWindow;
  readonly instants: readonly Instant[];
  readonly saying: Saying;
  readonly ink: ChartInk;
}

/** @param label the sentence for who cannot see it */
export function stackedTraces(
  plots: readonly Plot[],
  window: StackedWindow,
  instants: readonly Instant[],
  label: string,
  saying: Saying,
  ink: ChartInk,
): Chart {
  let top = instants.length === 0 ? 0 : INSTANTS_HEIGHT;
  const tops = plots.map((plot) => {
    const own = top + TITLE_HEIGHT;
    top = own + plot.height + PLOT_GAP;
    return own;
  });
  const last = plots.length - 1;
  const ranges = plots.map(rangeOf);
  const on = { window, instants, saying, ink };
  const rich = {
    b: { fontWeight: 600, fontSize: 13, color: ink.ink, fontFamily: ink.font },
    u: { fontSize: 13, color: ink.ink2, fontFamily: ink.font },
  };
  const option = {
    animation: false,
    title: plots.map(({ title, unit }, i) => ({
      text: `{b|${title}} {u|${unit}}`,
      left: PLOT_LEFT + 8,
      top: tops[i]! - TITLE_HEIGHT + 4,
      padding: 0,
      textStyle: { rich },
    })),
    grid: plots.map(({ height }, i) => ({ left: PLOT_LEFT, right: PLOT_RIGHT, top: tops[i], height })),
    xAxis: plots.map((_, i) => ({ gridIndex: i, ...timeAxis(window.from, window.to, ink, i === last) })),
    yAxis: plots.map((plot, i) => ({ gridIndex: i, ...valueAxis(ink, ranges[i]!, plot.decimals, plot.height) })),
    series: plots.flatMap((plot, i) => [
      ...frame(plot, ranges[i]!, i, on),
      ...plot.traces.flatMap((trace) => envelope(trace, plot, i, ink)),
      ...lines(plot, ranges[i]!, i, ink),
    ]),
  };
  return {
    title: plots[0]?.title ?? '',
    unit: plots[0]?.unit ?? '',
    label,
    height: top + AXIS_HEIGHT,
    option,
    table: () => tableOfPlots(plots, saying),
  };
}

/** Plots of any series, those of one unit of measure together: the readings explorer. */
export function readingsPlots(series: readonly Series[]): Plot[] {
  const byAxis = new Map<string, Series[]>();
  for (const one of series) {
    const key = one.symbol === '' ? one.quantity : one.symbol;
    byAxis.set(key, [...(byAxis.get(key) ?? []), one]);
  }
  return [...byAxis.values()].map((own) => {
    const isOne = new Set(own.map(({ quantity }) => quantity)).size === 1;
    const ids = [...new Set(own.map(({ id }) => id))];
    return {
      title: [...new Set(own.map(({ quantity }) => quantityLook(quantity).label))].join(', '),
      unit: own[0]!.symbol,
      factor: 1,
      decimals: own[0]!.decimals,
      height: 140,
      traces: own.map((one) => ({
        series: one,
        name: isOne ? one.id : `${one.id} ${quantityLook(one.quantity).label.toLowerCase()}`,
        place: own.length === 1 ? null : isOne ? ids.indexOf(one.id) : own.indexOf(one),
      })),
      low: null,
      high: null,
      lines: [],
      range: {},
    };
  });
}
