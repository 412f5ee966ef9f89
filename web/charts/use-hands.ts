/** Cursor and window of one chart, moved by hand and by key. */
import { useSignal } from '@preact/signals';
import { useEffect, useRef, useState } from 'preact/hooks';
import type { TimeWindow } from '../url/view.ts';
import { ZOOM } from './chart-tools.tsx';
import { type Cursor, useCursor } from './cursor.ts';
import type { ChartPlace } from './placed-option.ts';
import { instantNear, type linesOf } from './readout-lines.ts';
import { useGestures } from './use-gestures.ts';
import { moved, named, within, zoomed } from './window.ts';

const TEN = 10;
/** How long a hand rests before the address follows. */
const SETTLE_MS = 250;

/** What of a chart can be moved, and what is told when it is. */
export interface Movable {
  /** The cursor that the charts of a page share; absent: its own. */
  readonly cursor?: Cursor;
  /** All that can be shown, and what to do when a part of it is asked for (null: the whole). */
  readonly whole?: TimeWindow;
  readonly onWindow?: (window: TimeWindow | null) => void;
}

/** The window while a hand moves it; the address follows when it rests. */
export function useMovingWindow(shown: TimeWindow | null, { whole, onWindow }: Movable) {
  const [moving, setMoving] = useState<TimeWindow | null>(null);
  const timer = useRef<ReturnType<typeof setTimeout> | undefined>(undefined);
  useEffect(() => {
    setMoving(null);
    return () => clearTimeout(timer.current);
  }, [shown?.from, shown?.to]);
  const window = moving ?? shown;
  const canMove = window !== null && whole !== undefined && onWindow !== undefined;
  const move = (next: TimeWindow) => {
    if (!canMove) return;
    const inside = within(next, whole);
    setMoving(inside);
    clearTimeout(timer.current);
    timer.current = setTimeout(() => onWindow(named(inside, whole)), SETTLE_MS);
  };
  return { window, move, canMove };
}

interface HandsOn extends Movable {
  readonly plots: { readonly current: HTMLElement | null };
  readonly lines: ReturnType<typeof linesOf>;
  readonly place: ChartPlace;
  readonly plotPx: number;
  readonly window: TimeWindow | null;
  readonly move: (window: TimeWindow) => void;
  readonly canMove: boolean;
  readonly onTable: () => void;
}

export function useHands(on: HandsOn) {
  const { lines, place, plotPx, window, whole, move, canMove, onWindow } = on;
  const own = useCursor();
  const cursor = on.cursor ?? own;
  const stretch = useSignal<readonly [number, number] | null>(null);
  const [byKey, setByKey] = useState(false);
  const timeAt = (px: number) =>
    window === null ? 0 : window.from + ((px - place.leftPx) / plotPx) * (window.to - window.from);
  const point = (t: number | null, isKey = false) => {
    if (window === null) return;
    setByKey(isKey);
    cursor.value = t === null || t < window.from || t > window.to ? null : instantNear(lines, t);
  };
  const zoomAt = (factor: number, at: number) =>
    window !== null && whole !== undefined && move(zoomed(window, factor, at, whole));
  const zoom = (factor: number) => window !== null && zoomAt(factor, cursor.value ?? (window.from + window.to) / 2);
  useGestures(on.plots, {
    onPoint: (px) => point(px === null ? null : timeAt(px)),
    onStretch: (next) => {
      stretch.value = canMove ? next : null;
    },
    onStretched: (fromPx, toPx) => move({ from: timeAt(fromPx), to: timeAt(toPx) }),
    onPan: (byPx) => window !== null && whole !== undefined && move(moved(window, byPx / plotPx, whole)),
    onZoom: (factor, px) => zoomAt(factor, timeAt(px)),
    onWhole: () => onWindow?.(null),
  });
  const step = (steps: number) => {
    if (window === null) return;
    const from = cursor.value ?? (steps > 0 ? window.from : window.to);
    const next = instantNear(lines, from, cursor.value === null ? 0 : steps);
    if (next !== null) point(next, true);
  };
  const keys: Readonly<Record<string, (many: number) => void>> = {
    ArrowLeft: (many) => step(-many),
    ArrowRight: step,
    '+': () => zoom(ZOOM.nearer),
    '=': () => zoom(ZOOM.nearer),
    '-': () => zoom(ZOOM.further),
    '0': () => onWindow?.(null),
    Enter: on.onTable,
    Escape: () => point(null),
  };
  const onKeyDown = (event: KeyboardEvent) => {
    const act = keys[event.key];
    if (act === undefined || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act(event.shiftKey ? TEN : 1);
  };
  return { cursor, stretch, byKey, zoom, onKeyDown };
}
