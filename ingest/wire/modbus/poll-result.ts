/** What one poll of a device says, and how it becomes readings. */
import type { SettingValue, SourceKey } from '../../vocabulary/reading.ts';
import type { BatchBuilder } from '../batch-builder.ts';
import type { Fault } from '../line-meaning.ts';

/** One source of the device at the instant of the poll. */
export interface SourceReading {
  readonly source: SourceKey;
  /** Pairs of `Column.index` and stored integer, each column once. Absent values are not there. */
  readonly values: readonly number[];
  readonly extras: Readonly<Record<string, unknown>> | null;
  /** Those that are new, differ from what was last sent, or were last sent a day ago. */
  readonly settings: Readonly<Record<string, SettingValue>> | null;
}

export interface PollResult {
  /** At most one a source; none of a source of which nothing was answered. */
  readonly readings: readonly SourceReading[];
  /** Whether the device gave any answer, be it a refusal. */
  readonly isAnswering: boolean;
  /** Whether everything that the device has was read. */
  readonly isWhole: boolean;
  /** The device is not what it was when it was opened: open it again before the next poll. */
  readonly mustOpen: boolean;
  /** How many values were read and not taken, for example a state that is in no map. */
  readonly refused: number;
  /** What is to be told to people; each is said once. */
  readonly notes: readonly Fault[];
}

/**
 * Puts a poll into a batch: one reading for each source, all with the same time.
 *
 * @param t  epoch ms when the first request of the poll was sent
 * @returns how many readings were put
 */
export function addPoll(builder: BatchBuilder, { readings }: PollResult, t: number): number {
  for (const { source, values, extras, settings } of readings) {
    builder.countLine();
    builder.take({ source, t, values, extras, settings, replaces: false, revision: 0, alarm: null });
  }
  return readings.length;
}
