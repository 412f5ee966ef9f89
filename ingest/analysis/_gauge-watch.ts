/** Watches each gauge against the ampere-hours that were counted: a charge that is reported and never flowed. */
import { BIN_MS, type CountBin } from './_count-bins.ts';
import { type CountLine, furthest } from './_count-line.ts';

/** A departure stands for so many quarter hours before it is raised: a single reading gone wrong does not. */
const STANDS = 2;
/** The smallest departure that is raised, points beyond what is granted. Our own choice: a gauge sets itself by less. */
const LEAST_POINTS = 2;
/** A gauge that stays put while more than this is counted is stuck, and that is a kind of its own, points. */
const STUCK_POINTS = 0.3;
/** So much of a departure must be against the other packs, too: what all gauges say alike parts nothing. */
const AGAINST_OTHERS = 0.5;
/** From this part on a departure is a jump. */
const BY_JUMP = 0.7;
/** A steady rate must explain the way there so many times better than a change of capacity does. */
const BETTER = 2;
/** A gauge is right again once it has stood near where it was for so long. */
const LEVEL_MS = 36 * 3_600_000;
const LEVEL_MIN_POINTS = 0.4;

export interface OpenGauge {
  readonly start: number;
  readonly detectedAt: number;
  readonly sign: 1 | -1;
  readonly isJump: boolean;
  /** The departure and what it had to exceed when it was raised, points. */
  readonly statistic: number;
  readonly threshold: number;
  /** How well a rate or a jump explained it: weight of the gauge against that of the capacity. */
  readonly weight: number;
  /** Where the sums of all packs stood at the onset. */
  readonly from: CountBin;
  /** The furthest that the pack has stood from there against the others, points. */
  readonly peak: number;
  readonly levelSince: number | null;
}

export interface GaugeWatch {
  readonly open: OpenGauge | null;
  /** How many quarter hours in a row a departure has stood; negative: downwards. */
  readonly stands: number;
  /** Departures are looked for from here. */
  readonly since: number;
}

export const NEW_GAUGE: GaugeWatch = { open: null, stands: 0, since: 0 };

/** Departure, in scales of the pack's own noise, for a budget: see `scaleOf` of the line. */
export function gaugeThreshold({ scale }: CountLine, logTrials: number): number {
  return Math.max(LEAST_POINTS, scale * logTrials);
}

/** Reported and not counted against the mean of the others, points, since a time. */
export function againstOthers(pack: number, from: CountBin, now: CountBin): number {
  const own = now.all.map((all, k) => all - from.all[k]!);
  const sum = own.reduce((a, b) => a + b, 0);
  return own[pack]! - (sum - own[pack]!) / Math.max(1, own.length - 1);
}

export interface GaugeOf {
  readonly lines: readonly CountLine[];
  readonly pack: number;
  readonly bins: readonly CountBin[];
  /** Counted while the gauge stayed put, points. */
  readonly unmoved: number;
  readonly closedAt: number;
  readonly logTrials: number;
}

export function watchGauge(watch: GaugeWatch, of: GaugeOf): GaugeWatch {
  const { lines, pack, bins, unmoved, closedAt, logTrials } = of;
  const line = lines[pack]!;
  const threshold = gaugeThreshold(line, logTrials);
  const now = bins.at(-1)!;
  if (now.apart[pack] == null) return watch;
  const { up, down } = furthest(lines, pack, bins, watch.since);
  const sign = up.size >= down.size ? 1 : -1;
  const { place, size } = sign === 1 ? up : down;
  if (!(size > threshold)) return watch.stands === 0 ? watch : { ...watch, stands: 0 };
  const stands = Math.sign(watch.stands) === sign ? watch.stands + sign : sign;
  const next = { ...watch, stands };
  if (Math.abs(stands) < STANDS || unmoved > STUCK_POINTS + line.grain) return next;
  const from = bins[place]!;
  const told = sign * (now.told[pack]! - from.told[pack]!);
  const apart = sign * (now.apart[pack] - line.apart);
  if (sign * againstOthers(pack, from, now) < AGAINST_OTHERS * told) return next;
  // A gauge that comes back to the others is being set right.
  if (apart < AGAINST_OTHERS * size - 2 * line.apartScatter || apart < 0) return next;
  const jumped = sign * (now.jumped[pack]! - from.jumped[pack]!);
  const isJump = jumped >= BY_JUMP * told;
  if (isJump && Math.abs(now.apart[pack]) < Math.abs(from.apart[pack] ?? 0)) return next;
  const way = bins.slice(place);
  const ratio = isJump ? Number.POSITIVE_INFINITY : rateOverGain(way, pack);
  if (ratio < BETTER) return next;
  // Quarter hours of one way hang together: an hour is worth one.
  const against = isJump ? 0 : Math.exp((-Math.log(ratio) * way.length) / 8);
  const open: OpenGauge = {
    start: isJump ? jumpAt(way, pack, sign) : from.t + BIN_MS,
    detectedAt: closedAt,
    sign,
    isJump,
    statistic: size,
    threshold,
    weight: Math.min(0.99, 1 / (1 + against)),
    from,
    peak: Math.abs(againstOthers(pack, from, now)),
    levelSince: null,
  };
  return { ...next, open, stands: 0 };
}

/** Sum of squares that a change of capacity leaves over the sum that a steady rate leaves. */
function rateOverGain(way: readonly CountBin[], pack: number): number {
  const from = way[0]!;
  const rows = way.map((bin) => ({
    y: bin.told[pack]! - bin.jumped[pack]! - from.told[pack]! + from.jumped[pack]!,
    days: bin.days[pack]! - from.days[pack]!,
    moved: bin.moved[pack]! - from.moved[pack]!,
  }));
  const left = (of: (row: (typeof rows)[number]) => number): number => {
    const xx = rows.reduce((sum, row) => sum + of(row) ** 2, 0);
    const xy = rows.reduce((sum, row) => sum + of(row) * row.y, 0);
    const slope = xx === 0 ? 0 : xy / xx;
    return rows.reduce((sum, row) => sum + (row.y - slope * of(row)) ** 2, 0);
  };
  return (
    left((row) => row.moved) /
    Math.max(
      1e-9,
      left((row) => row.days),
    )
  );
}

function jumpAt(way: readonly CountBin[], pack: number, sign: 1 | -1): number {
  let best = { t: way[0]!.t, size: Number.NEGATIVE_INFINITY };
  for (let i = 1; i < way.length; i++) {
    const size = sign * (way[i]!.jumped[pack]! - way[i - 1]!.jumped[pack]!);
    if (size > best.size) best = { t: way[i]!.t, size };
  }
  return best.t;
}

/** Watches for the gauge being right again: set by a full charge, or by hand. */
export function watchGaugeEnd(
  watch: GaugeWatch,
  open: OpenGauge,
  pack: number,
  now: CountBin,
): { readonly watch: GaugeWatch; readonly endedAt: number | null } {
  const off = Math.abs(againstOthers(pack, open.from, now));
  const peak = Math.max(open.peak, off);
  const isLevel = off <= Math.max(LEVEL_MIN_POINTS, peak / 2);
  const levelSince = isLevel ? (open.levelSince ?? now.t) : null;
  if (levelSince === null || now.t - levelSince < LEVEL_MS)
    return { watch: { ...watch, open: { ...open, peak, levelSince } }, endedAt: null };
  return { watch: { ...NEW_GAUGE, since: now.t }, endedAt: levelSince };
}
