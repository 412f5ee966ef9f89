/** Why a unit does not see the battery: from who else does not, the voltage at its terminals, and its settings. */
import type { Cause, WeighedCause } from '../vocabulary/finding.ts';

export interface Unseen {
  readonly subject: string;
  /** No unit of several sees it. */
  readonly byAll: boolean;
  /** The unit that owns the data cable. */
  readonly isOwner: boolean;
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly unseenBy: readonly string[];
  readonly seenBy: readonly string[];
  readonly lastSocPct: number | null;
  readonly dcV: number | null;
  /** The battery's voltage at the unit: gone where it collapsed or is no longer sent. */
  readonly voltage: 'there' | 'gone' | 'unknown';
  readonly oddSettings: readonly string[];
}

type Weights = readonly (readonly [Cause, number])[];

/** From common practice: the cable at the owner, the link at a follower; a setting that differs outweighs either. */
function weightsOf({ isOwner, byAll, seenBy, voltage, oddSettings }: Unseen): Weights {
  const hasOddSetting = oddSettings.length > 0;
  if (voltage === 'gone') {
    const other = isOwner ? ('data_cable' as const) : ('parallel_link' as const);
    return hasOddSetting
      ? [
          ['battery_breaker', 0.6],
          ['setting', 0.25],
          [other, 0.15],
        ]
      : [
          ['battery_breaker', 0.7],
          [other, 0.2],
          ['setting', 0.1],
        ];
  }
  if (isOwner && (byAll || seenBy.length === 0)) {
    return hasOddSetting
      ? [
          ['setting', 0.6],
          ['data_cable', 0.35],
          ['battery_breaker', 0.05],
        ]
      : [
          ['data_cable', 0.8],
          ['battery_breaker', 0.1],
          ['setting', 0.1],
        ];
  }
  if (isOwner) {
    // The others still see what only this unit could have passed on: its own cable is not the likeliest.
    return hasOddSetting
      ? [
          ['setting', 0.75],
          ['data_cable', 0.2],
          ['parallel_link', 0.05],
        ]
      : [
          ['data_cable', 0.5],
          ['setting', 0.35],
          ['parallel_link', 0.15],
        ];
  }
  return hasOddSetting
    ? [
        ['setting', 0.8],
        ['parallel_link', 0.2],
      ]
    : [
        ['parallel_link', 0.7],
        ['setting', 0.25],
        ['battery_breaker', 0.05],
      ];
}

/** Causes, most likely first; the weights sum to 1. */
export function unseenCauses(unseen: Unseen): WeighedCause[] {
  return weightsOf(unseen).map(([cause, weight]) => ({ cause, weight }));
}
