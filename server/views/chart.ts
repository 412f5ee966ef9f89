/**
 * What a chart is before it is drawn: an option as plain data, a sentence for who cannot see it, and the same figures
 * as a table. Nothing here imports the chart library, so that reports can draw the same on the server.
 */

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
  return { color: ink.units[place % HUES]!, type: DASHES[place % HUES]!, width: place < HUES ? 1.6 : 0.9 };
}

/** Room left of the plot for y figures, and right of it for names at line ends, px. */
export const PLOT_LEFT = 0;
export const PLOT_RIGHT = 92;

/** Shade beyond limits, as mark areas: inside is paper. Infinite ends are left to the axis. */
export function beyondAreas(low: number | null, high: number | null, ink: ChartInk): object {
  const area = (from: object, to: object): readonly object[] => [from, to];
  return {
    silent: true,
    itemStyle: { color: ink.beyond },
    data: [
      ...(low === null ? [] : [area({ yAxis: 'min' }, { yAxis: low })]),
      ...(high === null ? [] : [area({ yAxis: high }, { yAxis: 'max' })]),
    ],
  };
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

/** An axis of time. Labels are made by the caller, who knows zone and words. */
export function timeAxis(
  from: number,
  to: number,
  ink: ChartInk,
  label: (t: number) => string,
  isShown = true,
): object {
  return {
    type: 'time',
    min: from,
    max: to,
    axisLine: { show: isShown, onZero: false, lineStyle: { color: ink.rule2 } },
    axisTick: { show: isShown, lineStyle: { color: ink.rule2 } },
    axisLabel: {
      show: isShown,
      color: ink.ink2,
      fontFamily: ink.font,
      fontSize: 12,
      hideOverlap: true,
      formatter: label,
    },
    splitLine: { show: true, lineStyle: { color: ink.rule, width: 0.5 } },
    axisPointer: { show: true, label: { show: false }, lineStyle: { color: ink.ink, width: 1, type: 'solid' } },
  };
}

/** One y axis a plot: its figures stand in the margin, left of the rule. */
export function valueAxis(
  ink: ChartInk,
  range: { readonly min?: number; readonly max?: number },
  label: (value: number) => string,
): object {
  return {
    type: 'value',
    scale: true,
    ...range,
    splitNumber: 3,
    axisLine: { show: true, lineStyle: { color: ink.rule2 } },
    axisTick: { show: false },
    splitLine: { show: false },
    axisLabel: { color: ink.ink2, fontFamily: ink.font, fontSize: 12, formatter: label },
  };
}
