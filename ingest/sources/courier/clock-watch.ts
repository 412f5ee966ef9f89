/**
 * The clock of a courier: does it step, and how far is it from the server's? Times of readings are sent as they were
 * taken; the offset is told beside, and the server judges.
 */
import { SECOND_MS } from '../../vocabulary/time.ts';

export interface ClockState {
  /** How far the clock is ahead of the server's; null: not measured since it last stepped. */
  readonly offsetMs: number | null;
  /** The sum of its steps since the courier began; + forward. */
  readonly steppedMs: number;
  readonly steps: number;
}

export interface ClockWatch {
  /** Looks for a step; call it about each second. */
  look(): void;
  /** An answer of the server: asked at `sentMs` of our clock, there after `tookMs`, with the server's time in it. */
  measured(sentMs: number, tookMs: number, serverMs: number): void;
  state(): ClockState;
}

export interface ClockHouse {
  nowMs(): number;
  /** Never steps. */
  elapsedMs(): number;
  say(line: string): void;
}

/** The two clocks drift by a few ms in a minute; a time service slews, and steps only beyond 128 ms. */
const STEP_MS = 500;
/** A measurement is as good as half the time its answer took. */
const SLOW_ANSWER_MS = 5 * SECOND_MS;
/** A better one holds for that long against worse ones. */
const HOLDS_MS = 120 * SECOND_MS;

export function createClockWatch({ nowMs, elapsedMs, say }: ClockHouse): ClockWatch {
  let apartMs = nowMs() - elapsedMs();
  let steppedMs = 0;
  let steps = 0;
  let best: { readonly offsetMs: number; readonly tookMs: number; readonly atMs: number } | null = null;
  const look = (): void => {
    const now = nowMs() - elapsedMs();
    const stepMs = now - apartMs;
    apartMs = now;
    if (Math.abs(stepMs) < STEP_MS) return;
    steppedMs += stepMs;
    steps++;
    // What was measured was of the clock as it stood.
    best = null;
    say(
      `the clock of this machine stepped ${stepMs > 0 ? 'forward' : 'back'} by ${(Math.abs(stepMs) / SECOND_MS).toFixed(1)} s; readings keep the times they were taken at`,
    );
  };
  return {
    look,
    measured(sentMs, tookMs, serverMs) {
      look();
      if (tookMs > SLOW_ANSWER_MS || nowMs() - sentMs - tookMs > STEP_MS || nowMs() - sentMs - tookMs < -STEP_MS)
        return;
      const isBetter = best === null || tookMs <= best.tookMs || elapsedMs() - best.atMs > HOLDS_MS;
      if (isBetter) best = { offsetMs: Math.round(sentMs + tookMs / 2 - serverMs), tookMs, atMs: elapsedMs() };
    },
    state: () => ({ offsetMs: best?.offsetMs ?? null, steppedMs: Math.round(steppedMs), steps }),
  };
}
