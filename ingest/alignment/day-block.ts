/** One UTC day of one site, as the analyzers see it. A gap is NaN here; outside alignment, math and analysis there is no NaN. */
import type { QuantityId } from '../vocabulary/quantities.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import type { EpochMs } from '../vocabulary/time.ts';

/** The readings of one unit, pack, bank or meter on one day, in order of time, no time twice. */
export interface SourceDay {
  readonly id: string;
  readonly tMs: Float64Array;
  /** One value a reading, in the quantity's own unit; NaN where absent; for enumerations the place of the word. Missing key: absent all day. */
  readonly columns: ReadonlyMap<QuantityId, Float64Array>;
}

export interface SettingChange {
  readonly unit: string;
  readonly t: EpochMs;
  readonly key: string;
  /** null where contradicting lines leave it undecided. */
  readonly value: SettingValue | null;
}

export interface AlarmChange {
  readonly id: string;
  readonly t: EpochMs;
  readonly alarm: string;
  readonly state: 'raised' | 'cleared';
}

/**
 * Readings that were set aside (formats.md, section 3) are not in it. Cut at UTC midnight, never at
 * arrival, batch or restart, so that sums do not depend on how the data came.
 */
export interface DayBlock {
  readonly day: EpochMs;
  /** Of the site's own time at midnight UTC; absent: UTC. Analysis knows no time zone. */
  readonly utcOffsetMs?: number;
  readonly units: ReadonlyMap<string, SourceDay>;
  readonly packs: ReadonlyMap<string, SourceDay>;
  readonly bank: SourceDay | null;
  readonly meters: ReadonlyMap<string, SourceDay>;
  /** In order of t, then unit, then key. */
  readonly settings: readonly SettingChange[];
  /** In order of t, then id, then alarm. */
  readonly alarms: readonly AlarmChange[];
}

/** The column of a quantity, or null where it is absent all day. */
export function columnOf(source: SourceDay | undefined | null, quantity: QuantityId): Float64Array | null {
  return source?.columns.get(quantity) ?? null;
}
