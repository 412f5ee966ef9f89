/** Which of several clocks is the odd one, since when, and what is said of it. */
import type { StepDifference } from '../alignment/clock-steps.ts';
import type { Finding, Severity } from '../vocabulary/finding.ts';
import { epochMs } from '../vocabulary/time.ts';
import { type Cadence, movedAt } from './_clock-cadence.ts';
import {
  CLOCK_LIMIT_S,
  type ClockPair,
  hasReturned,
  limitS,
  meanDifference,
  type PairTest,
  scatterS,
  signOf,
  takeReturn,
} from './_clock-pairs.ts';
import { onsetOf } from './_share-onset.ts';

/** From here on a person should set the clock: events of one minute no longer line up. */
const PLAN_S = 30;
const RECENT = 40;
/** Where many steps fall, some of a clock that is hours off are found close by: so many in a row are not by accident. */
const NEAR_ROW = 15;

export interface OpenOffset {
  /** The odd one, or those of which it can't be told. */
  readonly ids: readonly string[];
  readonly pair: readonly [string, string];
  /** 1: the first of the pair is late. */
  readonly sign: 1 | -1;
  /** How far they stood apart when it was raised, s: half of it is the way back. */
  readonly sizeS: number;
  /** +1 where the subject is the first of the pair, −1 where it is the second. */
  readonly facing: 1 | -1;
  readonly start: number;
  readonly detectedAt: number;
  readonly severity: Severity;
  readonly farS: number | null;
  /** Newest hours of the pair: how many differences, the sum of their middles and their mean half, s. */
  readonly middles: readonly (readonly [number, number, number])[];
  readonly others: readonly string[];
  readonly how: string;
  readonly levelSum: number;
  readonly levelSince: number | null;
  /** Steps in a row that were found again close by. */
  readonly nearRow: number;
}

interface NamedPair {
  readonly a: string;
  readonly b: string;
  readonly pair: ClockPair;
}

/** @returns null where no step stands behind it any more */
export function raiseOffset(
  first: NamedPair,
  pairs: readonly (NamedPair & { readonly isOneKind: boolean })[],
  cadences: Readonly<Record<string, Cadence>>,
  {
    closedAt,
    intervalS,
    threshold,
  }: { readonly closedAt: number; readonly intervalS: number; readonly threshold: number },
): OpenOffset | null {
  const sign = signOf(first.pair, threshold);
  if (sign === 0 || first.pair.recent.length === 0) return null;
  const start = first.pair.farS === null ? startOf(first.pair, sign) : (first.pair.missedSince ?? closedAt);
  const own = meanDifference(first.pair, start);
  if (own === null) return null;
  const apart = new Map<string, Set<string>>();
  for (const { a, b, pair, isOneKind } of pairs) {
    const mean = meanDifference(pair, start);
    if (mean === null || (mean.steps < 3 && pair.farS === null)) continue;
    if (Math.abs(mean.offsetS) < Math.max(0.75 * limitS(isOneKind), Math.abs(own.offsetS) / 2)) continue;
    apart.set(a, (apart.get(a) ?? new Set()).add(b));
    apart.set(b, (apart.get(b) ?? new Set()).add(a));
  }
  const [odd, how, since] = oddOf(first, apart, cadences, { start, own, intervalS });
  const ids = odd === null ? [first.a, first.b] : [odd];
  const facing = odd === first.b ? -1 : 1;
  const others = odd === null ? [] : [...(apart.get(odd) ?? [])].sort();
  return {
    ids,
    pair: [first.a, first.b],
    sign,
    sizeS: Math.round(Math.abs(own.offsetS) * 10) / 10,
    facing,
    start: Math.min(since ?? start, closedAt),
    detectedAt: closedAt,
    severity: Math.abs(own.offsetS) >= PLAN_S ? 'plan' : 'info',
    farS: first.pair.farS,
    middles: first.pair.recent
      .filter(([t]) => t >= start)
      .map(([, count, middles, half]) => [count, middles, half] as const)
      .slice(-RECENT),
    others,
    how,
    levelSum: 0,
    levelSince: null,
    nearRow: 0,
  };
}

function startOf({ recent }: ClockPair, sign: 1 | -1): number {
  return onsetOf(
    recent.map(([t, count, middles, half]) => ({ t, bins: count, score: (sign * middles) / scatterS(half) })),
  ).t;
}

/** The one that stands apart from most others; of two the one whose own stamps moved; else null. */
function oddOf(
  { a, b }: NamedPair,
  apart: ReadonlyMap<string, ReadonlySet<string>>,
  cadences: Readonly<Record<string, Cadence>>,
  { start, own, intervalS }: { start: number; own: { offsetS: number; errorS: number }; intervalS: number },
): [odd: string | null, how: string, since: number | null] {
  const moved = (id: string, offsetS: number): number | null => {
    const cadence = cadences[id];
    return cadence === undefined ? null : movedAt(cadence, start, { offsetS, errorS: own.errorS }, intervalS);
  };
  const [nA, nB] = [apart.get(a)?.size ?? 0, apart.get(b)?.size ?? 0];
  if (nA > nB) return [a, 'apart from most others', moved(a, own.offsetS)];
  if (nB > nA) return [b, 'apart from most others', moved(b, -own.offsetS)];
  const [movedA, movedB] = [moved(a, own.offsetS), moved(b, -own.offsetS)];
  if ((movedA === null) !== (movedB === null))
    return [movedA === null ? b : a, 'its own stamps moved by as much', movedA ?? movedB];
  return [null, 'two clocks apart, and no third to tell', null];
}

export interface Return {
  readonly open: OpenOffset;
  readonly endedAt: number | null;
}

/** Takes the newest differences of the pair that an offset was raised on. */
export function returnTo(open: OpenOffset, seen: readonly (StepDifference | null)[], test: PairTest): Return {
  let next = open;
  for (const difference of seen) {
    if (difference === null) {
      // Steps that aren't found again close by speak for a clock that is still far off.
      if (open.farS !== null) next = { ...next, levelSum: 0, levelSince: null, nearRow: 0 };
      continue;
    }
    const sum = takeReturn(next.levelSum, difference, open, test);
    next = {
      ...next,
      middles: [...next.middles, [1, difference.middleS, difference.halfS] as const].slice(-RECENT),
      levelSum: Math.round(sum * 10_000) / 10_000,
      levelSince: sum === 0 ? null : (next.levelSince ?? difference.t),
      nearRow: next.nearRow + 1,
    };
    if (hasReturned(sum) && (open.farS === null || next.nearRow >= NEAR_ROW))
      return { open: { ...next, middles: open.middles }, endedAt: next.levelSince };
  }
  return { open: next, endedAt: null };
}

const tenths = (value: number): number => Math.round(value * 10) / 10 + 0;

export function offsetFinding(open: OpenOffset, site: string, end: number | null): Finding {
  const { ids, middles, farS, facing } = open;
  const steps = middles.reduce((sum, [count]) => sum + count, 0);
  const mean = farS ?? middles.reduce((sum, [, own]) => sum + own, 0) / Math.max(1, steps);
  const error =
    Math.sqrt(middles.reduce((sum, [count, , half]) => sum + count * scatterS(half) ** 2, 0)) / Math.max(1, steps);
  const isOne = ids.length === 1;
  return {
    site,
    kind: 'clock_offset',
    subject: isOne ? ids[0]! : null,
    ...(isOne ? {} : { candidates: ids }),
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(Math.max(end, open.start)),
    severity: open.severity,
    measure: isOne
      ? 'stamps later than those of the others, s'
      : 'stamps of the first later than those of the second, s',
    value: tenths(facing * mean),
    baseline: null,
    limit: CLOCK_LIMIT_S,
    causes: [],
    evidence: {
      told_by: open.how,
      ...(isOne ? { against: open.others.length > 0 ? open.others : open.pair.filter((id) => id !== ids[0]) } : {}),
      steps,
      uncertainty_s: farS === null ? tenths(error) : null,
    },
  };
}
