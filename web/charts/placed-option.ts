/** A chart option put into its place on the page: beside the margin's rule, which is its y axis. Pure. */
import type { ChartOption } from '../../server/views/chart.ts';
import type { Saying } from '../../server/views/saying.ts';
import { axisLabeller, timeTicks } from '../../server/views/time-labels.ts';
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

/** The part of time that is drawn, how wide, and in whose words and zone its instants are said. */
export interface ShownTime {
  readonly window: TimeWindow;
  readonly plotPx: number;
  readonly saying: Saying;
}

/** A label and the room around it, px. */
const LABEL_PX = 84;

function overTime(axis: Part, { window: { from, to }, plotPx, saying }: ShownTime): Part {
  const ticks = timeTicks(from, to, saying.zone, plotPx / LABEL_PX);
  return {
    min: from,
    max: to,
    axisTick: { ...(axis.axisTick as Part), customValues: ticks },
    axisLabel: { ...(axis.axisLabel as Part), customValues: ticks, formatter: axisLabeller(from, to, saying) },
  };
}

/** The option with its plots between the page's edges and its x axes over the time that is shown. */
export function placedOption(option: ChartOption, place: ChartPlace, shown: ShownTime | null): ChartOption {
  const isNamed = partsOf(option.xAxis).some(({ name }) => typeof name === 'string' && name !== '');
  return {
    ...option,
    title: partsOf(option.title).map((title) => ({ ...title, left: place.leftPx + 8 })),
    grid: partsOf(option.grid).map((grid) => ({
      ...grid,
      left: place.leftPx,
      right: place.rightPx,
      ...(typeof grid.top === 'number' ? { top: Math.max(grid.top, ABOVE_PX) } : {}),
      ...(isNamed ? { bottom: NAMED_BELOW_PX } : {}),
    })),
    xAxis: partsOf(option.xAxis).map((axis) => ({
      ...axis,
      ...(shown === null ? {} : overTime(axis, shown)),
      ...(isNamed ? namedBelow(axis) : {}),
    })),
  };
}
