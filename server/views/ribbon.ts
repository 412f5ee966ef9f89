/** Where the ribbon's marks stand: 30 days, x in pixels from its start. */
import { DAY_MS, HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { FleetRow, RibbonEvent, RibbonSilence } from '../contract/read-fleet.ts';

export const RIBBON_DAYS = 30;
const LONGEST_MS = 4 * HOUR_MS;
const BAR_HEIGHT = 14;
const LEAST = 2.5;
const LEAST_GAP = 2;
/** Below one sample interval × 6 a silence is not drawn. */
const SILENT_INTERVALS = 6;

export interface RibbonBar {
  readonly event: RibbonEvent;
  readonly x: number;
  readonly width: number;
  readonly height: number;
  /** Output was lost: a bar down, too. */
  readonly isLost: boolean;
}

export interface RibbonGap {
  readonly silence: RibbonSilence;
  readonly x: number;
  /** null: it lasts, and has no right end. */
  readonly width: number | null;
}

/** 14 · √(min(length, 4 h) ÷ 4 h), at least 2.5 px. */
export function barHeight(lengthMs: number): number {
  return Math.max(LEAST, BAR_HEIGHT * Math.sqrt(Math.min(lengthMs, LONGEST_MS) / LONGEST_MS));
}

/** @param from start of the 30 days; @param width of the ribbon, px */
export function ribbonMarks(
  row: Pick<FleetRow, 'events' | 'silences' | 'everyMs'>,
  from: number,
  now: number,
  width: number,
): { readonly bars: readonly RibbonBar[]; readonly gaps: readonly RibbonGap[] } {
  const scale = width / (RIBBON_DAYS * DAY_MS);
  const x = (t: number): number => Math.max(0, Math.min(width, (t - from) * scale));
  const bars = row.events.map((event) => {
    const lengthMs = event.lengthMs ?? Math.max(0, now - event.start);
    return {
      event,
      x: x(event.start),
      width: Math.max(LEAST, lengthMs * scale),
      height: barHeight(lengthMs),
      isLost: event.outputLostS > 0,
    };
  });
  const gaps = row.silences
    .filter(({ lengthMs }) => lengthMs === null || lengthMs >= SILENT_INTERVALS * row.everyMs)
    .map((silence) => ({
      silence,
      x: x(silence.start),
      width:
        silence.lengthMs === null ? null : Math.max(LEAST_GAP, x(silence.start + silence.lengthMs) - x(silence.start)),
    }));
  return { bars, gaps };
}
