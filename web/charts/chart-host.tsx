/**
 * The one host of every chart: draws it beside the margin's rule, moves its cursor and its window by hand and key, and
 * keeps the same figures beside it as a table, as CSV and as PNG.
 */

import { useId, useMemo, useRef, useState } from 'preact/hooks';
import type { Chart } from '../../server/views/chart.ts';
import type { Saying } from '../../server/views/saying.ts';
import { useViewportWidth } from '../parts/use-viewport.ts';
import type { TimeWindow } from '../url/view.ts';
import { BOARD } from '../words.ts';
import { ChartTable } from './chart-table.tsx';
import { ChartTools } from './chart-tools.tsx';
import { type ChartPlace, partsOf, placedOption, windowOfOption } from './placed-option.ts';
import { Readout } from './readout.tsx';
import { linesOf } from './readout-lines.ts';
import { saveCanvas } from './save.ts';
import { useChart, useElementWidth } from './use-chart.ts';
import { type Movable, useHands, useMovingWindow } from './use-hands.ts';
import { useInk } from './use-ink.ts';
import { named } from './window.ts';

export interface ChartHostProps extends Movable {
  readonly chart: Chart;
  readonly saying: Saying;
  /** Of saved files: 'millpond-share-u2'. */
  readonly file: string;
  /** At the margin its rule is the y axis; a chart beside other things has its own. */
  readonly at?: 'margin' | 'inset';
  /** The part that is shown, where the page says so for several charts at once; else the chart's own. */
  readonly window?: TimeWindow;
  /** What the chart is of, behind its title. */
  readonly note?: string;
}

const PHONE_BELOW_PX = 600;
const NAMES_PX = { wide: 92, phone: 74, inset: 110, insetPhone: 96 } as const;
const AXIS_PX = { wide: 58, phone: 34, inset: 44 } as const;
/** A reading within so many pixels of the cursor is under it. */
const UNDER_CURSOR_PX = 12;

function usePlace(at: 'margin' | 'inset'): ChartPlace {
  const isPhone = useViewportWidth() < PHONE_BELOW_PX;
  if (isPhone) return { leftPx: AXIS_PX.phone, rightPx: at === 'inset' ? NAMES_PX.insetPhone : NAMES_PX.phone };
  return at === 'inset'
    ? { leftPx: AXIS_PX.inset, rightPx: NAMES_PX.inset }
    : { leftPx: AXIS_PX.wide, rightPx: NAMES_PX.wide };
}

/** The instant of the cursor as a place; null where there is none in the window. */
function cursorPlace(
  at: number | null,
  window: TimeWindow | null,
  { leftPx }: ChartPlace,
  plotPx: number,
): number | null {
  if (at === null || window === null || at < window.from || at > window.to) return null;
  return leftPx + ((at - window.from) / (window.to - window.from)) * plotPx;
}

function Overlay({ cursorPx, stretch }: { cursorPx: number | null; stretch: readonly [number, number] | null }) {
  return (
    <>
      {cursorPx === null ? null : <i class="chart-cursor" style={{ left: `${cursorPx}px` }} />}
      {stretch === null ? null : (
        <i
          class="chart-stretch"
          style={{ left: `${Math.min(...stretch)}px`, width: `${Math.abs(stretch[1] - stretch[0])}px` }}
        />
      )}
    </>
  );
}

function ChartTitle({ chart, note }: Pick<ChartHostProps, 'chart' | 'note'>) {
  const isInPlots = partsOf(chart.option.title).length > 0;
  return (
    <span class="chart-title">
      {isInPlots ? null : (
        <>
          <b>{chart.title}</b> {chart.unit}
        </>
      )}
      {note === undefined ? null : ` ${note}`}
    </span>
  );
}

export function ChartHost(props: ChartHostProps) {
  const { chart, saying, file, at = 'margin', whole, onWindow, note } = props;
  const [isTable, setTable] = useState(false);
  const keysId = useId();
  const plots = useRef<HTMLDivElement>(null);
  const ink = useInk();
  const place = usePlace(at);
  const { window, move, canMove } = useMovingWindow(props.window ?? windowOfOption(chart.option), props);
  const canvas = useRef<HTMLDivElement>(null);
  const widthPx = useElementWidth(canvas);
  const plotPx = Math.max(1, widthPx - place.leftPx - place.rightPx);
  const option = useMemo(
    () => placedOption(chart.option, place, window === null ? null : { window, plotPx, saying }),
    [chart, place.leftPx, place.rightPx, window?.from, window?.to, plotPx, saying.zone],
  );
  const { instance, state } = useChart(canvas, option);
  const lines = useMemo(() => linesOf(chart), [chart]);
  const onTable = () => setTable(true);
  const hands = useHands({ ...props, plots, lines, place, plotPx, window, move, canMove, onTable });
  const onPicture = () => {
    const picture = instance?.renderToCanvas({ pixelRatio: 2, backgroundColor: ink.ground });
    if (picture !== undefined) saveCanvas(picture, `${file}.png`);
  };
  return (
    <figure class={at === 'margin' ? 'chart' : 'chart inset'}>
      <figcaption class="chart-head">
        <ChartTitle chart={chart} {...(note === undefined ? {} : { note })} />
        <ChartTools
          chart={chart}
          file={file}
          zoom={canMove ? hands.zoom : null}
          isWhole={window === null || whole === undefined || named(window, whole) === null}
          onWhole={() => onWindow?.(null)}
          isTable={isTable}
          onTable={() => setTable(!isTable)}
          onPicture={onPicture}
        />
      </figcaption>
      <div
        ref={plots}
        class="chart-plots"
        // biome-ignore lint/a11y/noNoninteractiveTabindex: the cursor of a chart is moved by keys
        tabIndex={0}
        role="group"
        aria-label={chart.label}
        aria-describedby={keysId}
        onKeyDown={hands.onKeyDown}
        style={{ height: `${chart.height}px` }}
      >
        <div ref={canvas} class="chart-canvas" />
        {state === 'failed' ? <p class="notice">{BOARD.chartFailed}</p> : null}
        <Overlay cursorPx={cursorPlace(hands.cursor.value, window, place, plotPx)} stretch={hands.stretch.value} />
      </div>
      <p id={keysId} class="unseen">
        {BOARD.chartKeys}
      </p>
      {window === null ? null : (
        <Readout
          lines={lines}
          at={hands.cursor.value}
          farMs={((window.to - window.from) / plotPx) * UNDER_CURSOR_PX}
          saying={saying}
          isSaid={hands.byKey}
        />
      )}
      {isTable || state === 'failed' ? <ChartTable chart={chart} onClose={() => setTable(false)} /> : null}
    </figure>
  );
}
