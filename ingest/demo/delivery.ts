/** What happens to lines on their way: gaps, lines that come hours late, lines that come twice. */
import { DAY_MS, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import type { Outage } from './grid.ts';
import { appendBytes, type ByteSink, createSink } from './log-lines.ts';
import type { Prng } from './prng.ts';
import type { Period, SitePlan } from './site-plan.ts';

/**
 * A span of time in which lines fare otherwise. lost: they never arrive. late: they arrive at `deliverAt`
 * only. resent: they arrive in time, and again at `deliverAt`.
 */
interface Window {
  readonly fate: 'lost' | 'late' | 'resent';
  readonly from: number;
  readonly to: number;
  readonly deliverAt: number;
  /** Place of the one source it befalls, among units, packs, bank, meter; null for all. */
  readonly source: number | null;
}

/** Lines kept back, one sink for each file of the day. */
interface Held {
  readonly window: Window;
  readonly sinks: ByteSink[];
}

export interface Delivery {
  readonly windows: readonly Window[];
  active: Window[];
  held: Held[];
}

/** Shorter than the ten minutes after which a source counts as silent. */
const LONGEST_GAP_MS = 7 * MINUTE_MS;

/** Draws the windows of a site: about one gap in five days, one late span in eight, one sent again in fifteen. */
export function planDelivery(
  prng: Prng,
  plan: SitePlan,
  period: Period,
  outages: readonly Outage[],
  sources: number,
): Delivery {
  const days = (period.to - period.from) / DAY_MS;
  const windows: Window[] = [];
  const isClear = (from: number, to: number) =>
    outages.every((o) => to + 15 * MINUTE_MS < o.start || from > o.end + 15 * MINUTE_MS) &&
    windows.every((w) => to + 30 * MINUTE_MS < w.from || from > w.to + 30 * MINUTE_MS);
  const draw = (fate: Window['fate'], count: number, shortestMs: number, longestMs: number) => {
    for (let tries = 0, made = 0; made < count && tries < 20 * count; tries++) {
      const from = period.from + prng.uniform() * (period.to - period.from);
      const to = from + prng.between(shortestMs, longestMs);
      if (!isClear(from, to)) continue;
      const source = fate === 'lost' && prng.chance(0.6) ? prng.whole(0, sources - 1) : null;
      windows.push({ fate, from, to, deliverAt: to + prng.between(HOUR_MS, 30 * HOUR_MS), source });
      made++;
    }
  };
  if (plan.lateOutage) {
    const first = outages[0];
    if (first !== undefined) {
      windows.push({
        fate: 'late',
        from: first.start - 5 * MINUTE_MS,
        to: first.end + 5 * MINUTE_MS,
        deliverAt: first.end + 26 * HOUR_MS,
        source: null,
      });
    }
  }
  draw('lost', Math.round(days / 5), 2 * MINUTE_MS, LONGEST_GAP_MS);
  draw('late', Math.round(days / 8), 10 * MINUTE_MS, HOUR_MS);
  draw('resent', Math.round(days / 15), 10 * MINUTE_MS, 30 * MINUTE_MS);
  if (plan.replacement !== null) {
    const { at, unit } = plan.replacement;
    const source = plan.units.findIndex((u) => u.id === unit);
    windows.push({ fate: 'lost', from: at, to: at + LONGEST_GAP_MS, deliverAt: at, source });
  }
  if (plan.firmware !== null) {
    const { at, stepMs } = plan.firmware;
    for (const [i] of plan.units.entries()) {
      windows.push({ fate: 'lost', from: at + i * stepMs - 90_000, to: at + i * stepMs, deliverAt: at, source: i });
    }
  }
  return { windows, active: [], held: [] };
}

/** Keeps the windows that touch a tick, so that each line looks at few or none. */
export function beginTick(delivery: Delivery, fromMs: number, toMs: number): void {
  if (delivery.active.length > 0) delivery.active = [];
  for (const window of delivery.windows) {
    if (window.from < toMs && window.to >= fromMs) delivery.active.push(window);
  }
}

/** The window that befalls a line of a source at a time, or null: it arrives as it should. */
export function windowOf(delivery: Delivery, source: number, tMs: number): Window | null {
  for (const window of delivery.active) {
    if (tMs >= window.from && tMs < window.to && (window.source === null || window.source === source)) return window;
  }
  return null;
}

/** The sink for lines of a window that are kept back. @param file place of the day's file it belongs to */
export function heldSink(delivery: Delivery, window: Window, file: number, files: number): ByteSink {
  let held = delivery.held.find((h) => h.window === window);
  if (held === undefined) {
    held = { window, sinks: Array.from({ length: files }, () => createSink(1 << 12)) };
    delivery.held.push(held);
  }
  return held.sinks[file]!;
}

/** Puts what is due by now at the end of the day's files. */
export function deliver(delivery: Delivery, nowMs: number, files: readonly ByteSink[]): void {
  if (delivery.held.length === 0) return;
  const due = delivery.held.filter((h) => h.window.deliverAt <= nowMs);
  if (due.length === 0) return;
  delivery.held = delivery.held.filter((h) => h.window.deliverAt > nowMs);
  for (const { sinks } of due) {
    sinks.forEach((sink, file) => {
      appendBytes(files[file]!, sink.bytes.subarray(0, sink.length));
    });
  }
}
