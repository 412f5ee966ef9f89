/** Where the Mondays of a ribbon stand: one hairline through all rows, so that a storm reads as a column. */
import { DAY_MS } from '../../ingest/vocabulary/time.ts';

/** 1 January 1970 was a Thursday. */
const MONDAY_AFTER_EPOCH = 4;

/** Midnights UTC that begin a Monday between the two times, with their place along `width` px. */
export function weekLines(from: number, to: number, width: number): { readonly at: number; readonly x: number }[] {
  const lines: { at: number; x: number }[] = [];
  const weekMs = 7 * DAY_MS;
  const first = Math.ceil((from - MONDAY_AFTER_EPOCH * DAY_MS) / weekMs) * weekMs + MONDAY_AFTER_EPOCH * DAY_MS;
  for (let at = first; at < to; at += weekMs) lines.push({ at, x: Math.round(((at - from) / (to - from)) * width) });
  return lines;
}
