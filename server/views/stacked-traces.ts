/** Plots over one shared time axis: the form of the event page, of packs, and of the readings explorer. */
import type { Series } from '../contract/series.ts';
import {
  beyondAreas,
  type Chart,
  type ChartInk,
  type ChartTable,
  levelLines,
  type MarkedLine,
  PLOT_LEFT,
  PLOT_RIGHT,
  timeAxis,
  traceStyle,
  valueAxis,
} from './chart.ts';
import { figureText, fullTimeText, quantityLook } from './figures.ts';
import type { Saying } from './saying.ts';
import { axisLabeller } from './time-labels.ts';

export interface Trace {
  readonly series: Series;
  /** At the line's end: 'u1'. */
  readonly name: string;
  /** Place of the unit or pack, for its hue; null: ink. */
  readonly place: number | null;
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
  readonly range: { readonly min?: number; readonly max?: number };
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

const TITLE_HEIGHT = 26;
const AXIS_HEIGHT = 28;
const PLOT_GAP = 8;

const scaled = (value: number | null, factor: number): number | null => (value === null ? null : value * factor);

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

function line({ series, name, place }: Trace, plot: Plot, index: number, ink: ChartInk): object {
  const style = place === null ? { color: ink.ink, type: 'solid', width: 1.6 } : traceStyle(place, ink);
  return {
    type: 'line',
    name,
    xAxisIndex: index,
    yAxisIndex: index,
    symbol: 'none',
    animation: false,
    connectNulls: false,
    step: series.words === null ? false : 'end',
    lineStyle: style,
    itemStyle: { color: style.color },
    endLabel: { show: true, formatter: name, color: style.color, fontFamily: ink.font, fontSize: 12 },
    labelLayout: { moveOverlap: 'shiftY' },
    data: series.t.map((at, i) => [at, scaled(series.mean[i]!, plot.factor)]),
  };
}

/** Carries limits, shade and instants, even where a plot has no readings. */
function frame(plot: Plot, index: number, instants: readonly Instant[], ink: ChartInk): object {
  return {
    type: 'line',
    xAxisIndex: index,
    yAxisIndex: index,
    silent: true,
    data: [],
    markArea: beyondAreas(plot.low, plot.high, ink),
    markLine: {
      ...levelLines(plot.lines, ink),
      data: [
        ...(levelLines(plot.lines, ink) as { data: readonly object[] }).data,
        ...instants.map(({ t, text }) => ({
          xAxis: t,
          lineStyle: { color: ink.ink, width: 1, type: 'solid' },
          label: {
            show: index === 0,
            formatter: text,
            position: 'end',
            color: ink.ink2,
            fontFamily: ink.font,
            fontSize: 12,
          },
        })),
      ],
    },
  };
}

function tableOf(plots: readonly Plot[], saying: Saying): ChartTable {
  const { words, zone } = saying;
  const rows = new Map<number, string[]>();
  const traces = plots.flatMap((plot) => plot.traces.map((trace) => ({ plot, trace })));
  traces.forEach(({ plot, trace: { series } }, column) => {
    series.t.forEach((t, i) => {
      const value = series.mean[i]!;
      if (value === null) return;
      const row = rows.get(t) ?? traces.map(() => '');
      row[column] = series.words?.[value] ?? figureText(value * plot.factor, plot.decimals);
      rows.set(t, row);
    });
  });
  return {
    columns: [words.chart.time, ...traces.map(({ plot, trace }) => `${plot.title} ${trace.name} ${plot.unit}`.trim())],
    rows: [...rows].sort((a, b) => a[0] - b[0]).map(([t, row]) => [fullTimeText(t, words.locale, zone), ...row]),
  };
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
  const labelOf = axisLabeller(window.from, window.to, saying);
  let top = 0;
  const tops = plots.map((plot) => {
    const own = top + TITLE_HEIGHT;
    top = own + plot.height + PLOT_GAP;
    return own;
  });
  const last = plots.length - 1;
  const option = {
    animation: false,
    aria: { enabled: true, label: { description: label } },
    title: plots.map(({ title, unit }, i) => ({
      text: `{b|${title}} {u|${unit}}`,
      left: PLOT_LEFT + 8,
      top: tops[i]! - TITLE_HEIGHT + 4,
      padding: 0,
      textStyle: {
        rich: {
          b: { fontWeight: 600, fontSize: 13, color: ink.ink, fontFamily: ink.font },
          u: { fontSize: 13, color: ink.ink2, fontFamily: ink.font },
        },
      },
    })),
    grid: plots.map(({ height }, i) => ({ left: PLOT_LEFT, right: PLOT_RIGHT, top: tops[i], height })),
    xAxis: plots.map((_, i) => ({ gridIndex: i, ...timeAxis(window.from, window.to, ink, labelOf, i === last) })),
    yAxis: plots.map((plot, i) => ({
      gridIndex: i,
      ...valueAxis(ink, plot.range, (value) => figureText(value, Math.min(plot.decimals, 2))),
    })),
    axisPointer: { link: [{ xAxisIndex: 'all' }], triggerOn: 'none' },
    dataZoom: [{ type: 'inside', xAxisIndex: plots.map((_, i) => i), filterMode: 'none' }],
    series: plots.flatMap((plot, i) => [
      frame(plot, i, instants, ink),
      ...plot.traces.flatMap((trace) => [...envelope(trace, plot, i, ink), line(trace, plot, i, ink)]),
    ]),
  };
  return {
    title: plots[0]?.title ?? '',
    unit: plots[0]?.unit ?? '',
    label,
    height: top + AXIS_HEIGHT,
    option,
    table: () => tableOf(plots, saying),
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
