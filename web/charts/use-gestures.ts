/**
 * What a hand does on a chart: move the cursor, draw out a stretch, pan, pinch, turn the wheel.
 * The wheel zooms only while the chart has the keyboard or Ctrl is held, so that a page scrolls past its charts.
 */
import { useEffect, useRef } from 'preact/hooks';

/** Places in px from the left of the plots. */
export interface Gestures {
  readonly onPoint: (atPx: number | null) => void;
  /** A stretch is being drawn out; null: it was given up. */
  readonly onStretch: (stretch: readonly [fromPx: number, toPx: number] | null) => void;
  readonly onStretched: (fromPx: number, toPx: number) => void;
  readonly onPan: (byPx: number) => void;
  readonly onZoom: (factor: number, atPx: number) => void;
  readonly onWhole: () => void;
}

/** A shorter drag is an unsteady click. */
const LEAST_STRETCH_PX = 8;
const WHEEL_STEP = 1.0015;

interface Hand {
  readonly pointers: Map<number, number>;
  startPx: number;
  isStretching: boolean;
}

type Place = (event: MouseEvent) => number;

function pointerGestures(place: HTMLElement, at: Place, newest: { readonly current: Gestures }) {
  const hand: Hand = { pointers: new Map(), startPx: 0, isStretching: false };
  const down = (event: PointerEvent) => {
    if (event.button !== 0) return;
    hand.pointers.set(event.pointerId, at(event));
    hand.startPx = at(event);
    hand.isStretching = event.pointerType === 'mouse' && !event.shiftKey;
    place.setPointerCapture(event.pointerId);
  };
  const move = (event: PointerEvent) => {
    const before = hand.pointers.get(event.pointerId);
    const px = at(event);
    if (before === undefined || hand.pointers.size === 1) newest.current.onPoint(px);
    if (before === undefined) return;
    if (hand.pointers.size === 2) pinch(event.pointerId, before, px);
    else if (hand.isStretching) newest.current.onStretch([hand.startPx, px]);
    else newest.current.onPan(before - px);
    hand.pointers.set(event.pointerId, px);
  };
  const pinch = (id: number, before: number, px: number) => {
    const other = [...hand.pointers].find(([key]) => key !== id)?.[1] ?? px;
    const apart = Math.abs(px - other);
    if (apart > LEAST_STRETCH_PX) newest.current.onZoom(Math.abs(before - other) / apart, (px + other) / 2);
  };
  const up = (event: PointerEvent) => {
    const wasDown = hand.pointers.delete(event.pointerId);
    if (!wasDown || !hand.isStretching) return;
    hand.isStretching = false;
    newest.current.onStretch(null);
    const px = at(event);
    if (event.type === 'pointerup' && Math.abs(px - hand.startPx) >= LEAST_STRETCH_PX) {
      newest.current.onStretched(Math.min(px, hand.startPx), Math.max(px, hand.startPx));
    }
  };
  const leave = () => hand.pointers.size === 0 && newest.current.onPoint(null);
  return { pointerdown: down, pointermove: move, pointerup: up, pointercancel: up, pointerleave: leave };
}

/** Listens on `place` while the caller is drawn; null gestures: a chart without time. */
export function useGestures(place: { readonly current: HTMLElement | null }, gestures: Gestures): void {
  const newest = useRef(gestures);
  newest.current = gestures;
  useEffect(() => {
    const element = place.current;
    if (element === null) return;
    const at: Place = (event) => event.clientX - element.getBoundingClientRect().left;
    const wheel = (event: WheelEvent) => {
      if (!event.ctrlKey && document.activeElement !== element) return;
      event.preventDefault();
      newest.current.onZoom(WHEEL_STEP ** event.deltaY, at(event));
    };
    const whole = () => newest.current.onWhole();
    const pointers = Object.entries(pointerGestures(element, at, newest));
    for (const [name, listen] of pointers) element.addEventListener(name, listen as EventListener);
    element.addEventListener('wheel', wheel, { passive: false });
    element.addEventListener('dblclick', whole);
    return () => {
      for (const [name, listen] of pointers) element.removeEventListener(name, listen as EventListener);
      element.removeEventListener('wheel', wheel);
      element.removeEventListener('dblclick', whole);
    };
  }, []);
}
