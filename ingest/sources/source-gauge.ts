/** How one source fares, gathered as it goes: what every kind of source counts in the same way. */
import type { ReadingBatch } from '../vocabulary/reading.ts';
import type { Refusal } from '../vocabulary/refusal.ts';
import type { DevicePart, LiveSourceKind, RefusalSample, SourceStatus } from '../vocabulary/source-status.ts';
import { type EpochMs, epochMs } from '../vocabulary/time.ts';

/** More say nothing new; the count stands beside. */
const MOST_SAMPLES = 20;

export interface SourceGauge {
  connected(): void;
  /** Not connected, or connected and in trouble of which somebody should know. */
  broken(trouble: string): void;
  stored(batch: ReadingBatch): void;
  /** @param count of pieces that this one stands for */
  refused(sample: Refusal, count?: number): void;
  status(parts?: readonly DevicePart[]): SourceStatus;
}

/** The newest `t` of a batch; null where it holds no reading. */
export function newestTime({ rows, rowsLength }: ReadingBatch): EpochMs | null {
  let newest = Number.NEGATIVE_INFINITY;
  for (let at = 0; at < rowsLength; at += 3 + 2 * rows[at + 2]!) newest = Math.max(newest, rows[at + 1]!);
  return newest === Number.NEGATIVE_INFINITY ? null : epochMs(newest);
}

export function createSourceGauge(name: string, kind: LiveSourceKind, nowMs: () => number): SourceGauge {
  const now = (): EpochMs => epochMs(Math.round(nowMs()));
  let isConnected = false;
  let since: EpochMs | null = null;
  let lastReadingAt: EpochMs | null = null;
  let lagMs: number | null = null;
  let readings = 0;
  let refused = 0;
  let trouble: string | null = null;
  const samples: RefusalSample[] = [];
  const turn = (to: boolean): void => {
    if (isConnected !== to || since === null) since = now();
    isConnected = to;
  };
  return {
    connected() {
      turn(true);
      trouble = null;
    },
    broken(text) {
      turn(false);
      trouble = text;
    },
    stored(batch) {
      const newest = newestTime(batch);
      readings += batch.lines - batch.refused.length;
      if (newest === null) return;
      lagMs = Math.max(0, now() - newest);
      lastReadingAt = lastReadingAt === null || newest > lastReadingAt ? newest : lastReadingAt;
    },
    refused({ where, what, remedy }, count = 1) {
      refused += count;
      // The same once more says nothing new, and would push out what does.
      const known = samples.findIndex((one) => one.where === where && one.what === what);
      if (known >= 0) samples.splice(known, 1);
      samples.unshift({ at: now(), where, what, remedy });
      samples.length = Math.min(samples.length, MOST_SAMPLES);
    },
    status: (parts = []) => ({
      name,
      kind,
      isConnected,
      since,
      lastReadingAt,
      lagMs,
      readings,
      refused,
      samples: [...samples],
      trouble,
      parts,
    }),
  };
}
