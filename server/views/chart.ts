/**
 * What a chart is before it is drawn: an option as plain data, a sentence for who cannot see it, and the same figures
 * as a table. Nothing here imports the chart library, so that reports can draw the same on the server.
 */

import { axisText } from './figures.ts';

/** The colours of the theme that is on: chart options hold colours, not names of them. */
export interface ChartInk {
  readonly ground: string;
  readonly ink: string;
  readonly ink2: string;
  readonly ink3: string;
  readonly rule: string;
  readonly rule2: string;
  readonly beyond: string;
  readonly act: string;
  /** u1, u2, u3: units 4 to 6 take them again, drawn as a double line. */
  readonly units: readonly [string, string, string];
  /** The same for their names, which must be read as text is. */
  readonly unitTexts: readonly [string, string, string];
  /** Family of measured text. */
  readonly font: string;
}

export interface ChartTable {
  readonly columns: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** An option of the chart library; opaque to everybody but the host that draws it. */
export type ChartOption = Readonly<Record<string, unknown>>;

export interface Chart {
  /** Bold, with the unit of its y axis behind it. */
  readonly title: string;
  readonly unit: string;
  /** One sentence: the label of the picture. */
  readonly label: string;
  /** Height that it wants, px. */
  readonly height: number;
  readonly option: ChartOption;
  /** Made only when somebody asks for it: a year has many rows. */
  table(): ChartTable;
}

const DASHES: readonly (readonly number[] | 'solid')[] = ['solid', [7, 2], [2.5, 2]];
const HUES = 3;

/** Hue and line style of the nth unit or pack: each hue is doubled by a style. */
export function traceStyle(
  place: number,
  ink: ChartInk,
): { readonly color: string; readonly type: readonly number[] | 'solid'; readonly width: number } {
  return { color: ink.units[place % HUES]!, type: DASHES[place % HUES]!, width: place < HUES ? 1.6 : 3 };
}

/** Colour of the name of the nth unit or pack. */
export const nameColor = (place: number, ink: ChartInk): string => ink.unitTexts[place % HUES]!;

/** Whether the nth takes a hue again, and is told apart by a line of paper drawn along its middle. */
export const isDouble = (place: number): boolean => place >= HUES;

/** Room left of the plot for y figures, and right of it for names at line ends, px. */
export const PLOT_LEFT = 0;
export const PLOT_RIGHT = 92;

export interface AxisRange {
  readonly min: number;
  readonly max: number;
}

/** Shade beyond limits, as mark areas up to the ends of the axis: inside is paper. */
export function beyondAreas(low: number | null, high: number | null, { min, max }: AxisRange, ink: ChartInk): object {
  return {
    silent: true,
    itemStyle: { color: ink.beyond },
    data: [
      ...(low === null || low <= min ? [] : [[{ yAxis: min }, { yAxis: Math.min(low, max) }]]),
      ...(high === null || high >= max ? [] : [[{ yAxis: Math.max(high, min) }, { yAxis: max }]]),
    ],
  };
}

const STEPS = [1, 2, 2.5, 5, 10];

/** Round figures inside the range, about as many as asked for. */
export function niceTicks({ min, max }: AxisRange, about: number): number[] {
  const wanted = (max - min) / Math.max(1, about);
  if (!(wanted > 0) || !Number.isFinite(wanted)) return [];
  const power = 10 ** Math.floor(Math.log10(wanted));
  const fitting = STEPS.filter((one) => one * power <= wanted * 2.2).reverse();
  const steps = [STEPS.find((one) => one * power >= wanted * 0.999) ?? 10, ...fitting];
  const all = steps.map((one) => multiples({ min, max }, one * power));
  // One figure is no scale: the next smaller step is taken until two stand on it.
  return all.find((ticks) => ticks.length >= 2) ?? all.at(-1)!;
}

function multiples({ min, max }: AxisRange, step: number): number[] {
  const ticks: number[] = [];
  const decimals = Math.max(0, 2 - Math.floor(Math.log10(step)));
  for (let k = Math.ceil(min / step - 1e-9); k * step <= max + step * 1e-9; k++)
    ticks.push(Number((k * step).toFixed(decimals)));
  return ticks;
}

export interface MarkedLine {
  readonly at: number;
  readonly text: string;
  readonly isDotted: boolean;
}

/** Limits and proven figures as lines with their figure at the right end. */
export function levelLines(lines: readonly MarkedLine[], ink: ChartInk): object {
  return {
    silent: true,
    symbol: 'none',
    animation: false,
    data: lines.map(({ at, text, isDotted }) => ({
      yAxis: at,
      lineStyle: { color: isDotted ? ink.ink2 : ink.rule2, type: isDotted ? 'dotted' : 'solid', width: 1 },
      label: { formatter: text, position: 'end', color: ink.ink2, fontFamily: ink.font, fontSize: 12 },
    })),
  };
}

/** An axis of time. Where its labels stand depends on how wide it is drawn: `timeTicks` (time-labels.ts) says so. */
export function timeAxis(from: number, to: number, ink: ChartInk, isShown = true): object {
  return {
    type: 'time',
    min: from,
    max: to,
    axisLine: { show: isShown, onZero: false, lineStyle: { color: ink.rule2 } },
    axisTick: { show: isShown, lineStyle: { color: ink.rule2 } },
    axisLabel: { show: isShown, color: ink.ink2, fontFamily: ink.font, fontSize: 12, hideOverlap: true },
    splitLine: { show: true, lineStyle: { color: ink.rule, width: 0.5 } },
  };
}

/** One figure of the axis about so many px. */
const TICK_PX = 42;

/** One y axis a plot: its figures stand in the margin, left of the rule, and say no decimals that are not needed. */
export function valueAxis(ink: ChartInk, range: AxisRange, decimals: number, lengthPx: number): object {
  const ticks = niceTicks(range, Math.max(2, Math.min(6, lengthPx / TICK_PX)));
  return {
    type: 'value',
    ...range,
    axisLine: { show: true, lineStyle: { color: ink.rule2 } },
    axisTick: { show: false, customValues: ticks },
    splitLine: { show: false },
    axisLabel: {
      color: ink.ink2,
      fontFamily: ink.font,
      fontSize: 12,
      customValues: ticks,
      formatter: (value: number) => axisText(value, decimals),
    },
  };
}
