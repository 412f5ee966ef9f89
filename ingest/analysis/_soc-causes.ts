/** Why two packs parted, and which of them is the odd one. */
import { weightsFromLogLikelihoods } from '../math/weights-from-log-likelihoods.ts';
import type { Cause, WeighedCause } from '../vocabulary/finding.ts';
import type { SocHour } from './_soc-baseline.ts';

/** Scatter of each telling figure, as a share: wide, because each rests on another instrument's error. Our own choice. */
const TOLD_BY_COUNT = 0.35;
const CURRENT_SHARE = 0.2;
const SWING = 0.12;
/** What a pack that has stopped carrying keeps of its current share, and what a pack that lost capacity gains in swing. */
const NOT_CARRYING = 0.3;
const CAPACITY_SWING = 1.3;
/** Below this share of capacity an hour a current is too small to be divided. */
const CURRENT_MIN_C = 0.03;

/** Where a pack's counts stood at an onset. */
export interface PackAnchor {
  /** Reported change that no current explains, points, jumps of the gauge among it. */
  readonly unexplainedPoints: number | null;
  readonly netAh: number | null;
}

export interface PackFigures {
  /** Reported change less counted change since the onset, points; null without currents. */
  readonly unexplainedPoints: number | null;
  /** Change of charge since the onset by our own count, points of the capacity on record; null without currents. */
  readonly countedPoints: number | null;
  /** Part of the bank's current over its part of the capacity; null where too little current flowed. */
  readonly currentShare: number | null;
  /** Reported swing over the swing that the counted charge explains; null where too little was cycled. */
  readonly swing: number | null;
}

export function anchorsOf({ residualPoints, jumpPoints, netAh }: SocHour): PackAnchor[] {
  return residualPoints.map((residual, pack) => {
    const jump = jumpPoints[pack] ?? null;
    return {
      unexplainedPoints: residual === null || jump === null ? null : residual + jump,
      netAh: netAh[pack] ?? null,
    };
  });
}

/**
 * The telling figures of each pack over the hours since an onset.
 *
 * @param from where the counts stood at the onset, if hours that old are no longer there
 */
export function packFigures(
  hours: readonly SocHour[],
  capacityAh: readonly number[],
  from?: readonly PackAnchor[],
): PackFigures[] {
  const totalAh = capacityAh.reduce((a, b) => a + b, 0);
  return capacityAh.map((ownAh, pack) => {
    const firstHour = hours.find((h) => h.residualPoints[pack] != null);
    const lastHour = hours.findLast((h) => h.residualPoints[pack] != null);
    const first = from?.[pack] ?? (firstHour && anchorsOf(firstHour)[pack]);
    const last = lastHour && anchorsOf(lastHour)[pack];
    const hasCurrent = hours.some((h) => h.currentA[pack] != null);
    const change = (of: (anchor: PackAnchor) => number | null): number | null => {
      if (!hasCurrent || first === undefined || last === undefined) return null;
      const [before, now] = [of(first), of(last)];
      return before === null || now === null ? null : now - before;
    };
    const movedAh = change((anchor) => anchor.netAh);
    return {
      unexplainedPoints: change((anchor) => anchor.unexplainedPoints),
      countedPoints: movedAh === null ? null : (-100 * movedAh) / ownAh,
      currentShare: currentShareOf(hours, pack, ownAh / totalAh, totalAh),
      swing: swingOf(hours, pack, ownAh),
    };
  });
}

function currentShareOf(
  hours: readonly SocHour[],
  pack: number,
  capacityShare: number,
  totalAh: number,
): number | null {
  let own = 0;
  let all = 0;
  for (const { currentA } of hours) {
    if (currentA.some((a) => a === null)) continue;
    const total = currentA.reduce((sum: number, a) => sum + a!, 0);
    if (Math.abs(total) < CURRENT_MIN_C * totalAh) continue;
    own += Math.sign(total) * currentA[pack]!;
    all += Math.abs(total);
  }
  return all === 0 ? null : own / all / capacityShare;
}

/** Slope of reported charge over counted charge, hour by hour, through the origin. */
function swingOf(hours: readonly SocHour[], pack: number, ownAh: number): number | null {
  let xx = 0;
  let xy = 0;
  for (let i = 1; i < hours.length; i++) {
    const [before, now] = [hours[i - 1]!, hours[i]!];
    if (now.t - before.t !== 3_600_000 || before.netAh[pack] == null || now.netAh[pack] == null) continue;
    const counted = (-100 * (now.netAh[pack] - before.netAh[pack])) / ownAh;
    const reported = counted + now.residualPoints[pack]! - before.residualPoints[pack]!;
    xx += counted * counted;
    xy += counted * reported;
  }
  return xx < 100 ? null : xy / xx;
}

export interface SocVerdict {
  /** The odd pack, or null where it cannot be told. */
  readonly odd: number | null;
  readonly causes: readonly WeighedCause[];
}

/**
 * Which pack is odd and why.
 *
 * @param shifts   how far each pack has moved from its baseline, points
 * @param figures  since the onset
 * @param baseline the same figures over the baseline
 */
export function socVerdict(
  shifts: readonly number[],
  figures: readonly PackFigures[],
  baseline: readonly PackFigures[],
): SocVerdict {
  const size = Math.max(...shifts) - Math.min(...shifts);
  const scores = shifts.map((shift, pack) => packScores(shift, size, shifts.length, figures[pack]!, baseline[pack]!));
  // Packs mirror each other: each explanation names one pack, and speaks for the others being as they were.
  const quiet = scores.map(({ none }) => none);
  const explanations = scores.flatMap(({ gauge, carrying, capacity }, pack) => {
    const rest = quiet.reduce((sum, none, k) => (k === pack ? sum : sum + none), 0);
    return [
      { pack, cause: 'gauge_error' as Cause, score: gauge + rest },
      { pack, cause: 'pack_not_carrying' as Cause, score: carrying + rest },
      { pack, cause: 'capacity_loss' as Cause, score: capacity + rest },
    ];
  });
  const weights = weightsFromLogLikelihoods(explanations.map((e) => e.score)) ?? explanations.map(() => 0);
  const byPack = shifts.map((_, pack) =>
    explanations.reduce((sum, e, i) => (e.pack === pack ? sum + weights[i]! : sum), 0),
  );
  const odd = byPack.findIndex((weight) => weight >= 0.8);
  const causes = ['gauge_error', 'pack_not_carrying', 'capacity_loss'].map((cause) => ({
    cause: cause as Cause,
    weight:
      Math.round(explanations.reduce((sum, e, i) => (e.cause === cause ? sum + weights[i]! : sum), 0) * 100) / 100,
  }));
  return {
    odd: odd < 0 ? null : odd,
    causes: causes.filter(({ weight }) => weight > 0).sort((a, b) => b.weight - a.weight),
  };
}

/** Log-likelihoods of one pack's figures under each explanation; an absent figure speaks for none. */
function packScores(shift: number, size: number, packs: number, figures: PackFigures, baseline: PackFigures) {
  const near = (value: number | null, expected: number, scatter: number): number =>
    value === null ? 0 : -0.5 * ((value - expected) / scatter) ** 2;
  // A pack's own shift is its share of the distance: with n packs the odd one moves by (n − 1)/n of it.
  const own = size === 0 ? 0 : Math.abs(shift) / size;
  const moved = near(own, (packs - 1) / packs, 0.2);
  const stayed = near(own, 1 / packs, 0.2);
  const ofSize = (points: number | null): number | null =>
    points === null || size === 0 ? null : (Math.sign(shift) * points) / size;
  const told = ofSize(figures.unexplainedPoints);
  // A pack with less capacity reports more change for the same charge, and takes it back with the next cycle.
  const swingMore = Math.min(1, Math.max(0, (figures.swing ?? CAPACITY_SWING) - 1));
  const toldByCapacity = (ofSize(figures.countedPoints) ?? 0) * swingMore;
  const ratio =
    figures.currentShare === null || baseline.currentShare === null || baseline.currentShare < 0.2
      ? null
      : figures.currentShare / baseline.currentShare;
  const swing = figures.swing === null ? null : figures.swing / (baseline.swing ?? 1);
  const asBefore = near(ratio, 1, CURRENT_SHARE) + near(swing, 1, SWING);
  return {
    none: stayed + near(told, 0, TOLD_BY_COUNT) + asBefore,
    gauge: moved + near(told, 1, TOLD_BY_COUNT) + near(ratio, 1, CURRENT_SHARE) + near(swing, 1, 2 * SWING),
    carrying:
      moved +
      near(told, 0, TOLD_BY_COUNT) +
      near(ratio === null ? null : Math.min(ratio, 1), NOT_CARRYING, CURRENT_SHARE) +
      (ratio === null ? -1 : 0),
    capacity:
      moved +
      near(told, toldByCapacity, TOLD_BY_COUNT) +
      near(swing, CAPACITY_SWING, 1.5 * SWING) +
      near(ratio, 1, CURRENT_SHARE) +
      (swing === null ? -1.5 : 0),
  };
}
