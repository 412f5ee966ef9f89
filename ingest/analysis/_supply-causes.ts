/** Why a unit is without the grid that others have: its own breaker, or the phase of the supply that it hangs on. */
import { phaseGroups } from '../site/history.ts';
import type { SiteRecord } from '../site/record.ts';
import type { WeighedCause } from '../vocabulary/finding.ts';

/** From this share of a unit's rating a transformer on the phase shows that the phase is alive. */
const CT_ALIVE = 0.03;
/** Induced from the other phases onto a dead conductor: from this share of nominal. */
const INDUCED = 0.04;

/** Phases of which every unit is among those without the grid, where other phases keep it. */
export function lostPhases(record: SiteRecord, units: readonly string[]): string[] {
  const groups = [...phaseGroups(record)];
  const lost = groups.filter(([, group]) => group.every(({ id }) => units.includes(id))).map(([phase]) => phase);
  return lost.length < groups.length ? lost : [];
}

interface LossFigures {
  readonly units: readonly string[];
  readonly phases: readonly string[];
  readonly sitePhases: number;
  readonly isWaiting: boolean;
  readonly volts: number | null;
  readonly nominalV: number;
  readonly ctW: number | null;
  readonly ratedW: number;
}

/**
 * Weight of a lost supply phase, 0…1; the rest is the breaker's.
 *
 * Where another unit of the same phase has the grid, the phase is alive. Where a phase has lost all its
 * several units, one supply phase is likelier than several breakers. A single unit on a phase of its own
 * leaves both open: utilities lose single phases more often than breakers trip (our own weighing, no source).
 */
function phaseWeight({ units, phases, sitePhases, isWaiting, volts, nominalV, ctW, ratedW }: LossFigures): number {
  if (sitePhases < 2 || phases.length === 0) return 0.02;
  // It sees a voltage: the phase is there.
  if (isWaiting) return 0.05;
  if (ctW !== null && ctW > CT_ALIVE * ratedW) return 0.1;
  if (units.length > phases.length) return 0.95;
  return volts !== null && volts > INDUCED * nominalV ? 0.8 : 0.65;
}

/** Causes, most likely first; the weights sum to 1. */
export function gridLossCauses(loss: LossFigures): WeighedCause[] {
  const phase = phaseWeight(loss);
  const both: WeighedCause[] = [
    { cause: 'supply_phase', weight: phase },
    { cause: 'input_breaker', weight: Math.round((1 - phase) * 100) / 100 },
  ];
  return both.sort((a, b) => b.weight - a.weight);
}
