/** A chart option put into its place on the page: beside the margin's rule, which is its y axis. Pure. */
import type { ChartOption } from '../../server/views/chart.ts';
import type { TimeWindow } from '../url/view.ts';

type Part = Readonly<Record<string, unknown>>;

/** One part or several: the library takes both. */
export function partsOf(part: unknown): readonly Part[] {
  if (part === undefined || part === null) return [];
  return (Array.isArray(part) ? part : [part]) as readonly Part[];
}

export interface ChartPlace {
  /** From the canvas's left edge to the y axis, px. */
  readonly leftPx: number;
  /** Right of the plots, for names at line ends, px. */
  readonly rightPx: number;
}

/** The time window of a chart's x axis; null where x is no time. */
export function windowOfOption(option: ChartOption): TimeWindow | null {
  const axis = partsOf(option.xAxis)[0];
  if (axis?.type !== 'time' || typeof axis.min !== 'number' || typeof axis.max !== 'number') return null;
  return { from: axis.min, to: axis.max };
}

/** Room over the plots for the word at a marked instant, px. */
const ABOVE_PX = 22;
/** Room under the plots where the x axis has a name, and the name's place: below its figures, at the right. */
const NAMED_BELOW_PX = 46;
const AXIS_NAME = { align: 'right', verticalAlign: 'top', padding: [24, 0, 0, 0] } as const;

/** Its name in the letters of its figures, below them. */
function namedBelow(axis: Part): Part {
  const { color, fontFamily, fontSize } = axis.axisLabel as Part;
  return { nameLocation: 'end', nameGap: 0, nameTextStyle: { color, fontFamily, fontSize, ...AXIS_NAME } };
}

/** Shade up to an axis's end. Named 'min' or 'max' the library takes the least or greatest datum instead, and shades the inside. */
function toAxisEnds(area: unknown): unknown {
  if (area === undefined || area === null) return area;
  const { data, ...rest } = area as { readonly data?: readonly (readonly Part[])[] };
  const end = (corner: Part): Part => {
    if (corner.yAxis === 'min') return { ...corner, yAxis: Number.NEGATIVE_INFINITY };
    if (corner.yAxis === 'max') return { ...corner, yAxis: Number.POSITIVE_INFINITY };
    return corner;
  };
  return { ...rest, data: (data ?? []).map((corners) => corners.map(end)) };
}

/**
 * The option with its plots between the page's edges and its x axes over `window`.
 * What the host does itself (zoom, cursor, label) is taken out: two hands on one chart would fight.
 */
export function placedOption(option: ChartOption, place: ChartPlace, window: TimeWindow | null): ChartOption {
  const { dataZoom: _zoom, axisPointer: _pointer, aria: _aria, ...rest } = option;
  const isNamed = partsOf(option.xAxis).some(({ name }) => typeof name === 'string' && name !== '');
  const over = window === null ? {} : { min: window.from, max: window.to };
  return {
    ...rest,
    title: partsOf(option.title).map((title) => ({ ...title, left: place.leftPx + 8 })),
    grid: partsOf(option.grid).map((grid) => ({
      ...grid,
      left: place.leftPx,
      right: place.rightPx,
      ...(typeof grid.top === 'number' ? { top: Math.max(grid.top, ABOVE_PX) } : {}),
      ...(isNamed ? { bottom: NAMED_BELOW_PX } : {}),
    })),
    xAxis: partsOf(option.xAxis).map((axis) => ({ ...axis, ...over, ...(isNamed ? namedBelow(axis) : {}) })),
    yAxis: partsOf(option.yAxis).map((axis) => ({
      ...axis,
      axisLabel: { ...(axis.axisLabel as Part), hideOverlap: true },
    })),
    series: partsOf(option.series).map((series) => ({
      ...series,
      ...(series.markArea === undefined ? {} : { markArea: toAxisEnds(series.markArea) }),
    })),
  };
}
