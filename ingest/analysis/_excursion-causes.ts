/** Why the frequency left its band on its own: what load, battery and PV were doing at the extreme. */
import type { WeighedCause } from '../vocabulary/finding.ts';
import type { Excursion } from './_island-event.ts';

/** Fewer steps against each other than this are chance. */
const HUNTING_STEPS = 3;
/** Of the rating: from here a droop-controlled set is heavily loaded. */
const HEAVY = 0.9;
/** From this charge a battery takes no more than it must. */
const FULL_PCT = 95;
/** Of the rating: under it the units are next to idle. */
const IDLE = 0.1;
/** A passed test for hunting outweighs a load that is heavy besides: the swings themselves overload. */
const HUNT_WEIGHT = 2;
/** Nothing measured stays a possibility. */
const UNEXPLAINED = 0.15;

function overload(e: Excursion): number {
  if (e.direction !== 'low') return 0;
  const { totalPowerW, ratedPowerW, loadPctMax, loadShareMax } = e.atExtreme;
  const share = Math.max(
    totalPowerW === null || ratedPowerW <= 0 ? 0 : totalPowerW / ratedPowerW,
    loadPctMax === null ? 0 : loadPctMax / 100,
    loadShareMax ?? 0,
  );
  if (share > 1) return 1;
  return share > HEAVY ? 0.4 : 0;
}

function surplus(e: Excursion): number {
  if (e.direction !== 'high') return 0;
  const { acPvPowerW, totalPowerW, dcCurrentA, pvPowerW, socPct, ratedPowerW, acCoupledPv } = e.atExtreme;
  const fromPv = Math.max(acPvPowerW ?? 0, pvPowerW ?? 0) > 0.02 * ratedPowerW;
  const absorbs = totalPowerW !== null && totalPowerW < 0;
  const charges = absorbs || (dcCurrentA !== null && dcCurrentA < 0);
  const isFull = socPct !== null && socPct >= FULL_PCT;
  if ((fromPv || absorbs) && (charges || isFull)) return 1;
  // PV held back to what the load takes leaves the units with next to nothing, and nobody need measure it.
  const isIdle = totalPowerW !== null && totalPowerW < IDLE * ratedPowerW;
  if (acCoupledPv && acPvPowerW === null && isFull && isIdle) return 0.8;
  return fromPv || absorbs ? 0.5 : 0;
}

/** The verdict's own test, as far as it has come; few steps against each other are chance. */
function hunting(e: Excursion): number {
  const { antiphaseSteps, commonSteps, huntPart } = e.atExtreme;
  const byTest = Math.min(1, huntPart) * HUNT_WEIGHT;
  if (antiphaseSteps < HUNTING_STEPS) return byTest;
  return Math.max(byTest, antiphaseSteps / (antiphaseSteps + commonSteps));
}

/** Causes of a frequency excursion, most likely first; the weights sum to 1. */
export function excursionCauses(e: Excursion): WeighedCause[] {
  const scores = [
    { cause: 'overload', score: overload(e) },
    { cause: 'surplus_generation', score: surplus(e) },
    { cause: 'hunting', score: hunting(e) },
    { cause: 'unexplained', score: UNEXPLAINED },
  ] as const;
  const sum = scores.reduce((total, { score }) => total + score, 0);
  const weighed = scores
    .filter(({ score }) => score > 0)
    .map(({ cause, score }) => ({ cause, weight: Math.round((score / sum) * 100) / 100 }))
    .sort((a, b) => b.weight - a.weight);
  const rest = weighed.slice(1).reduce((total, { weight }) => total + weight, 0);
  return weighed.map((w, k) => (k === 0 ? { ...w, weight: Math.round((1 - rest) * 100) / 100 } : w));
}
