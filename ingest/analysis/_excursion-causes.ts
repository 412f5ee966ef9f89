/** Why the frequency left its band on its own: what load, battery and PV were doing at the extreme. */
import type { WeighedCause } from '../vocabulary/finding.ts';
import type { Excursion } from './_island-event.ts';

/** Fewer steps against each other than this are chance. */
const HUNTING_STEPS = 3;
/** Of the rating: from here a droop-controlled set is heavily loaded. */
const HEAVY = 0.9;
/** Nothing measured stays a possibility. */
const UNEXPLAINED = 0.15;

function overload(e: Excursion): number {
  if (e.direction !== 'low') return 0;
  const { totalPowerW, ratedPowerW, loadPctMax } = e.atExtreme;
  const share = Math.max(
    totalPowerW === null || ratedPowerW <= 0 ? 0 : totalPowerW / ratedPowerW,
    loadPctMax === null ? 0 : loadPctMax / 100,
  );
  if (share > 1) return 1;
  return share > HEAVY ? 0.4 : 0;
}

function surplus(e: Excursion): number {
  if (e.direction !== 'high') return 0;
  const { acPvPowerW, totalPowerW, dcCurrentA, pvPowerW, socPct, ratedPowerW } = e.atExtreme;
  const fromPv = Math.max(acPvPowerW ?? 0, pvPowerW ?? 0) > 0.02 * ratedPowerW;
  const absorbs = totalPowerW !== null && totalPowerW < 0;
  const charges = absorbs || (dcCurrentA !== null && dcCurrentA < 0);
  const isFull = socPct !== null && socPct >= 95;
  if ((fromPv || absorbs) && (charges || isFull)) return 1;
  return fromPv || absorbs ? 0.5 : 0;
}

function hunting(e: Excursion): number {
  const { antiphaseSteps, commonSteps } = e.atExtreme;
  if (antiphaseSteps < HUNTING_STEPS) return 0;
  return antiphaseSteps / (antiphaseSteps + commonSteps);
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
