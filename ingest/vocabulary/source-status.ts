/** How a live source fares, as the worker says it and the board shows it. */
import type { EpochMs } from './time.ts';

export const LIVE_SOURCE_KINDS = ['folder', 'push', 'modbus', 'mqtt'] as const;
export type LiveSourceKind = (typeof LIVE_SOURCE_KINDS)[number];

/** Something that was not taken, kept as a sample: the count stands beside. */
export interface RefusalSample {
  readonly at: EpochMs;
  /** Device, topic, file or gateway that it came from. */
  readonly where: string;
  readonly what: string;
  readonly remedy: string;
}

/** One device behind a link, or one node behind a broker. */
export interface DevicePart {
  /** As the configuration names it, for example `u1 at address 1`. */
  readonly name: string;
  readonly isAnswering: boolean;
  readonly lastReadingAt: EpochMs | null;
  /** What is wrong, in words; null where nothing is. */
  readonly trouble: string | null;
}

export interface SourceStatus {
  /** Unique among the sources of a worker, and the same after a restart, for example `modbus 127.0.0.1:502`. */
  readonly name: string;
  readonly kind: LiveSourceKind;
  readonly isConnected: boolean;
  /** Since when it is connected, or is not. */
  readonly since: EpochMs | null;
  /** The newest `t` of a reading that it brought. */
  readonly lastReadingAt: EpochMs | null;
  /** How long after its `t` the last reading was stored; null before the first. */
  readonly lagMs: number | null;
  /** Since the worker started. */
  readonly readings: number;
  readonly refused: number;
  /** The newest, at most 20. */
  readonly samples: readonly RefusalSample[];
  /** What is wrong with the source as a whole, in words; null where nothing is. */
  readonly trouble: string | null;
  readonly parts: readonly DevicePart[];
}
