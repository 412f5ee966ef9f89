/** Moves of a time window: what a wheel, a drag or a key does to it. Pure. */
import type { TimeWindow } from '../url/view.ts';

/** Nothing closer is asked for: at a reading every few seconds there is nothing more to see. */
export const LEAST_WINDOW_MS = 60_000;

/** Inside the whole, whole milliseconds, never shorter than the least. */
export function within(window: TimeWindow, whole: TimeWindow): TimeWindow {
  const longest = Math.max(whole.to - whole.from, LEAST_WINDOW_MS);
  const length = Math.min(Math.max(window.to - window.from, LEAST_WINDOW_MS), longest);
  const middle = (window.from + window.to) / 2;
  const from = Math.round(Math.min(Math.max(middle - length / 2, whole.from), whole.from + longest - length));
  return { from, to: Math.round(from + length) };
}

/** Longer by `factor` (shorter below 1) about the instant `at`, which stays where it is on the screen. */
export function zoomed(window: TimeWindow, factor: number, at: number, whole: TimeWindow): TimeWindow {
  const from = at - (at - window.from) * factor;
  return within({ from, to: from + (window.to - window.from) * factor }, whole);
}

/** Later by a part of its own length. */
export function moved(window: TimeWindow, part: number, whole: TimeWindow): TimeWindow {
  const by = (window.to - window.from) * part;
  const inside = Math.min(Math.max(by, whole.from - window.from), whole.to - window.to);
  return within({ from: window.from + inside, to: window.to + inside }, whole);
}

/** null where the window is the whole: then the address need not name it. */
export function named(window: TimeWindow, whole: TimeWindow): TimeWindow | null {
  return window.from <= whole.from && window.to >= whole.to ? null : window;
}
