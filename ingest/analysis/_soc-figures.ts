/** What was proven of the packs' charge and what it is now. Nothing here judges. */
import type { ProvenFigure } from '../vocabulary/figure.ts';
import { epochMs } from '../vocabulary/time.ts';
import { apartFromBaseline, type SocBaseline, type SocHour } from './_soc-baseline.ts';

/** Hours behind the present figure. */
const NOW_HOURS = 6;

interface ChargeState {
  readonly ids: readonly string[];
  readonly baseline: SocBaseline | null;
  readonly recent: readonly SocHour[];
  /** How far a pack may move, points. */
  readonly limit: number;
}

/** How far each pack's charge stands from the bank's: as its baseline has it at this current and charge, and as it is. */
export function chargeFigures(state: ChargeState, site: string, untold: string | null): ProvenFigure[] {
  if (state.ids.length < 2) return [];
  const newest = state.recent.slice(-NOW_HOURS);
  return state.ids.map((subject, pack) => {
    const figure = { site, measure: 'charge_apart' as const, subject, mode: null, limit: state.limit };
    if (state.baseline === null) return { ...figure, then: null, now: null, nowAt: null, because: untold };
    if (newest.length === 0)
      return {
        ...figure,
        then: null,
        now: null,
        nowAt: null,
        because: 'no hour since in which every pack reported its charge',
      };
    const mean = (of: (h: SocHour) => number): number =>
      Math.round((100 * newest.reduce((sum, h) => sum + of(h), 0)) / newest.length) / 100 + 0;
    const now = mean((h) => h.apart[pack]!);
    const off = mean((h) => apartFromBaseline(state.baseline!, pack, h));
    return {
      ...figure,
      then: Math.round((now - off) * 100) / 100 + 0,
      now,
      nowAt: epochMs(newest.at(-1)!.t),
      because: null,
    };
  });
}
