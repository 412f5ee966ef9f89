/** The named contradictions of a site record, and how one is said. */
import type { Refusal } from '../vocabulary/refusal.ts';
import type { SiteRecord } from './record.ts';

/**
 * contradiction: both cannot be true, the record must be mended.
 * habit: common practice of the trade; the maker's manual rules.
 * oddity: nothing is wrong for certain, but somebody should look twice.
 */
export type ContradictionSeverity = 'contradiction' | 'habit' | 'oddity';

export const CONTRADICTIONS = {
  lead_count: 'contradiction',
  serial_repeated: 'contradiction',
  chain_repeated: 'contradiction',
  chain_gap: 'contradiction',
  chain_incomplete: 'oddity',
  termination_missing: 'habit',
  termination_between: 'habit',
  termination_count: 'habit',
  phase_not_supplied: 'contradiction',
  split_supply: 'oddity',
  sharing_alone: 'oddity',
  sharing_backup_wired: 'contradiction',
  battery_link_to_follower: 'habit',
  packs_unlike: 'contradiction',
  cell_voltage_unlikely: 'habit',
  ct_repeated: 'contradiction',
  ct_phase_not_supplied: 'contradiction',
  ct_not_on_lead: 'habit',
  bond_unsaid: 'oddity',
  bond_none: 'habit',
  bond_ambiguous: 'contradiction',
  reserve_out_of_range: 'contradiction',
  frequency_band: 'contradiction',
  voltage_band: 'contradiction',
  ac_pv_band: 'oddity',
  commissioned_late: 'oddity',
} as const satisfies Readonly<Record<string, ContradictionSeverity>>;
export type ContradictionId = keyof typeof CONTRADICTIONS;

export interface Contradiction extends Refusal {
  readonly id: ContradictionId;
  readonly severity: ContradictionSeverity;
  readonly site: string;
  /** The value it hangs on: 'units[1].terminated'; '' for the record as a whole. */
  readonly path: string;
}

/** How every habit ends: it is no rule of ours. */
export const UNLESS_MANUAL = "unless the maker's manual says otherwise";

export interface ContradictionWords {
  readonly path: string;
  /** Where, in words, after the site: 'unit u2, terminated'. */
  readonly about: string;
  readonly what: string;
  readonly remedy: string;
}

export function contradiction(record: SiteRecord, id: ContradictionId, words: ContradictionWords): Contradiction {
  const severity: ContradictionSeverity = CONTRADICTIONS[id];
  const remedy = severity === 'habit' ? `${words.remedy}, ${UNLESS_MANUAL}` : words.remedy;
  return {
    id,
    severity,
    site: record.site,
    path: words.path,
    where: `${record.site}, ${words.about}`,
    what: words.what,
    remedy,
  };
}

/** What stands more than once, with the places of each in the list; null is not compared. */
export function repeats<T, Key extends string | number>(
  list: readonly T[],
  keyOf: (element: T) => Key | null,
): readonly (readonly [Key, readonly number[]])[] {
  const indices = new Map<Key, number[]>();
  list.forEach((element, i) => {
    const key = keyOf(element);
    if (key === null) return;
    const seen = indices.get(key);
    if (seen === undefined) indices.set(key, [i]);
    else seen.push(i);
  });
  return [...indices].filter(([, at]) => at.length > 1);
}

/** 'u1', 'u1 and u2', 'u1, u2 and u3' */
export function listed(words: readonly string[]): string {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;
}
