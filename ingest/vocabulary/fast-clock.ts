/**
 * A clock that runs faster than the world's until it has caught up with it: for a fleet that is only simulated. It
 * begins in the past and never shows the future.
 */

/** Plain data: it crosses a process, so that all processes of a house show the same time. */
export interface FastClock {
  /** When it was started, by the world's clock, epoch ms. */
  readonly realMs: number;
  /** What it showed then; not after `realMs`. */
  readonly shownMs: number;
  /** Times the world's speed, at least 1. */
  readonly speed: number;
}

/** What the clock shows, epoch ms. @param nowMs by the world's clock */
export function shownAt({ realMs, shownMs, speed }: FastClock, nowMs: number): number {
  return Math.min(nowMs, Math.floor(shownMs + (nowMs - realMs) * speed));
}

/** Times the world's speed that it runs at. @param nowMs by the world's clock */
export function speedAt(clock: FastClock, nowMs: number): number {
  return shownAt(clock, nowMs) < nowMs ? clock.speed : 1;
}
