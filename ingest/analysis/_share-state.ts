/** What the share analyzer keeps of a phase group, and what a finding is made of. */
import type { PowerBin, SharingMode } from '../alignment/power-bins.ts';
import type { SiteHistory } from '../site/record.ts';
import type { OpenDrift, ShareWatch } from './_share-watch.ts';

/** The units of one phase group, as long as they are the same ones. */
export interface GroupState {
  readonly phase: string;
  readonly ids: readonly string[];
  /** Since when the group is as it is: baselines begin here. null: from the first reading. */
  readonly since: number | null;
  readonly watches: { readonly [Mode in SharingMode]: ShareWatch };
  /** Bins whose end no reading has passed yet. */
  readonly pending: readonly PowerBin[];
  /** Greatest output current of each unit by day, newest last. */
  /** By day, newest last: least, median and greatest share of each unit over the loaded bins of the day. */
  readonly days: { readonly [Mode in SharingMode]: readonly ShareDay[] };
  readonly peaksA: readonly { readonly day: number; readonly unitA: readonly number[] }[];
}

export interface ShareDay {
  readonly day: number;
  readonly shares: readonly (readonly [min: number, median: number, max: number])[];
}

/** One open or ended drift, for the finding that speaks of it. */
export interface DriftCase {
  readonly group: GroupState;
  readonly mode: SharingMode;
  readonly watch: ShareWatch;
  readonly drift: OpenDrift;
  readonly end: number | null;
  readonly history: SiteHistory;
}
