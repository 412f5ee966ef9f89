import type { SourceKind } from './quantities.ts';
import type { EpochMs } from './time.ts';

/** Who measured: a unit, pack, bank or meter of a site. */
export interface SourceKey {
  readonly site: string;
  readonly kind: SourceKind;
  readonly id: string;
}

/** One text for a source key, for maps. Ids hold no slash. */
export function sourceName({ site, kind, id }: SourceKey): string {
  return `${site}/${kind}/${id}`;
}

/** Keys of a line that are no quantity: kept as they came, by key, value as JSON. */
export interface ExtraValues {
  /** Place of the line in `ReadingBatch.rows`, counted in readings from 0. */
  readonly reading: number;
  readonly values: Readonly<Record<string, unknown>>;
}

/** A line marked `"replaces": true`. */
export interface Replacing {
  /** Place of the line in `ReadingBatch.rows`, counted in readings from 0. */
  readonly reading: number;
  readonly revision: number;
}

export type SettingValue = string | number | boolean;

/** The settings of one unit at one instant, as sent. */
export interface SettingsReading {
  readonly source: number;
  readonly t: EpochMs;
  readonly values: Readonly<Record<string, SettingValue>>;
  readonly replaces: boolean;
  readonly revision: number;
  /** Place of the reading that came on the same line, counted in readings from 0; null where there is none. */
  readonly reading: number | null;
}

/** One alarm that the equipment raised or cleared. */
export interface AlarmReading {
  readonly source: number;
  readonly t: EpochMs;
  readonly alarm: string;
  readonly state: 'raised' | 'cleared';
  /** As in `SettingsReading`. */
  readonly reading: number | null;
}

/** A line that was not taken. */
export interface RefusedLine {
  /** Line of the file, from 1. */
  readonly line: number;
  readonly what: string;
  readonly remedy: string;
}

/**
 * What a decoder made of a piece of input: numbers in one flat array, so that a batch crosses
 * threads as one transfer, and the rare things as lists.
 */
export interface ReadingBatch {
  /** The sources named in this batch; everything else refers to them by place. */
  readonly sources: readonly SourceKey[];
  /**
   * Readings one after the other, each: place of its source, t (epoch ms), count of values n,
   * then n pairs of column index (`Column.index`) and stored integer. Absent values are not there.
   */
  readonly rows: Float64Array;
  /** How much of `rows` is used. */
  readonly rowsLength: number;
  /** How many readings stand in `rows`. */
  readonly readings: number;
  readonly extras: readonly ExtraValues[];
  readonly replacing: readonly Replacing[];
  readonly settings: readonly SettingsReading[];
  readonly alarms: readonly AlarmReading[];
  readonly refused: readonly RefusedLine[];
  /** How many lines were read, blank lines not counted: taken lines + refused lines. */
  readonly lines: number;
}
