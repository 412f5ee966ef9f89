/** What a gauge's count came to while all was as proven, and how far it has left that. */
import { solveLinear } from '../math/solve-linear.ts';
import { DAY_MS, dayOf } from '../vocabulary/time.ts';
import { BINS_A_DAY, type CountBin } from './_count-bins.ts';

/** A gauge may run off by so much more a day than it was proven to, points: temperature, age, what no current shows. */
const ALLOWED_A_DAY = 0.5;
/** So far back a departure is looked for. */
export const WINDOW_BINS = 3 * BINS_A_DAY;
/** Before any data: what a day and a whole charge may add, points and share; and what a gain may change by itself. */
const PRIOR_RATE = 2;
const PRIOR_GAIN = 0.02;
const GAIN_ERROR_MIN = 0.003;
const GAIN_ERRORS = 3;
/** A step of the current lies anywhere between two samples: of that scatter so many standard deviations are granted. */
const OPEN_ERRORS = 2;
/** The scale of a day's largest departure is not taken smaller, points. */
const SCALE_MIN = 0.05;
const NOISE_MIN = 0.1;
/** Of the scatter of a level so many standard deviations are granted: a way has two ends. */
const LEVEL_ERRORS = 4;
const GRAIN_MAX = 1;
/** Less counted change in a quarter hour says nothing of a gain, points. */
export const MOVED_MIN = 0.25;

export interface CountLine {
  /** Reported less counted: points a day, and share of the counted change. */
  readonly rate: number;
  readonly gain: number;
  readonly gainError: number;
  /** How finely the gauge is read, or how far its readings scatter about themselves, points. */
  readonly grain: number;
  /** Mean of the largest departure of each day of the baseline, points. */
  readonly scale: number;
  /** Standard deviation of a quarter hour with current, points. */
  readonly noise: number;
  readonly apart: number;
  readonly apartScatter: number;
}

/**
 * @param bins   of the baseline, in order, some days of them
 * @param grains how finely each gauge is read, points; null where its charge never changed
 */
export function fitCounts(bins: readonly CountBin[], grains: readonly (number | null)[]): CountLine[] {
  const lines = grains.map((grain, pack) => fitCount(bins, pack, grain));
  return lines.map((line, pack) => ({ ...line, scale: scaleOf(lines, bins, pack), noise: noiseOf(line, bins, pack) }));
}

function fitCount(bins: readonly CountBin[], pack: number, grain: number | null): CountLine {
  const first = bins[0]!;
  const rows = bins.map((b) => ({
    days: b.days[pack]! - first.days[pack]!,
    moved: b.moved[pack]! - first.moved[pack]!,
    told: b.told[pack]! - b.jumped[pack]! - first.told[pack]! + first.jumped[pack]!,
  }));
  const a = new Float64Array(9);
  const b = new Float64Array(3);
  for (const { days, moved, told } of rows) {
    const x = [1, days, moved];
    for (let i = 0; i < 3; i++) {
      b[i]! += x[i]! * told;
      for (let j = 0; j < 3; j++) a[i * 3 + j]! += x[i]! * x[j]!;
    }
  }
  const step = Math.min(GRAIN_MAX, grain ?? GRAIN_MAX);
  // Levels hang together for hours: a day of them is worth four. The scatter of one is that of its rounding at least.
  const worth = BINS_A_DAY / 4;
  const level = worth * Math.max(0.1, step / 3) ** 2;
  a[4]! += level / PRIOR_RATE ** 2;
  a[8]! += level / PRIOR_GAIN ** 2;
  const [, rate = 0, gain = 0] = solveLinear(a, b) ?? [];
  const meanMoved = rows.reduce((sum, r) => sum + r.moved, 0) / rows.length;
  const spread = rows.reduce((sum, r) => sum + (r.moved - meanMoved) ** 2, 0);
  const gainError = Math.max(GAIN_ERROR_MIN, 1 / Math.sqrt(spread / level + 1 / PRIOR_GAIN ** 2));
  const apart = bins.flatMap((bin) => bin.apart[pack] ?? []);
  const mean = apart.reduce((sum, x) => sum + x, 0) / Math.max(1, apart.length);
  const variance = apart.reduce((sum, x) => sum + (x - mean) ** 2, 0) / Math.max(1, apart.length - 1);
  return {
    rate,
    gain,
    gainError,
    grain: Math.max(step, LEVEL_ERRORS * levelScatter(bins, pack)),
    scale: SCALE_MIN,
    noise: NOISE_MIN,
    apart: mean,
    apartScatter: Math.sqrt(variance),
  };
}

export interface Departure {
  /** Place of the quarter hour that it is taken from. */
  readonly place: number;
  /** Points beyond what is granted. */
  readonly size: number;
}

/**
 * How far the newest quarter hour has left the line beyond what is granted, and from where: the furthest of all starts
 * within the window, upwards and downwards. What the other gauges left their lines by alike is not counted.
 */
export function furthest(lines: readonly CountLine[], pack: number, bins: readonly CountBin[], since: number) {
  const last = bins.length - 1;
  const now = bins[last]!;
  const line = lines[pack]!;
  let up: Departure = { place: last, size: Number.NEGATIVE_INFINITY };
  let down = up;
  // From the newest back: what is granted grows with the way, so that most starts need no second look.
  for (let place = last - 1; place >= Math.max(0, last - WINDOW_BINS); place--) {
    const from = bins[place]!;
    if (from.t < since) break;
    const left = leftBy(line, pack, from, now);
    const granted =
      (ALLOWED_A_DAY * (now.t - from.t)) / DAY_MS +
      (now.hidden[pack]! - from.hidden[pack]!) +
      GAIN_ERRORS * line.gainError * Math.abs(now.moved[pack]! - from.moved[pack]!) +
      OPEN_ERRORS * Math.sqrt((now.open2[pack]! - from.open2[pack]!) / 3) +
      line.grain;
    const most = Math.abs(left) - granted;
    if (most <= (left > 0 ? up : down).size) continue;
    const size = most - alike(lines, pack, from, now, left);
    if (left > 0 && size > up.size) up = { place, size };
    if (left < 0 && size > down.size) down = { place, size };
  }
  return { up, down };
}

function leftBy({ rate, gain }: CountLine, pack: number, from: CountBin, now: CountBin): number {
  return (
    now.told[pack]! -
    from.told[pack]! -
    rate * (now.days[pack]! - from.days[pack]!) -
    gain * (now.moved[pack]! - from.moved[pack]!)
  );
}

/** The part of a departure that the middle one of the other packs shares, points. */
function alike(lines: readonly CountLine[], pack: number, from: CountBin, now: CountBin, left: number): number {
  const others: number[] = [];
  for (let k = 0; k < lines.length; k++) if (k !== pack) others.push(leftBy(lines[k]!, k, from, now));
  others.sort((a, b) => a - b);
  const middle = others[others.length >> 1]!;
  return middle * left > 0 ? Math.min(Math.abs(middle), Math.abs(left)) : 0;
}

/** From quarter hour to quarter hour, by their median, so that steps of the current have no part in it. */
function levelScatter(bins: readonly CountBin[], pack: number): number {
  const changes = bins.slice(1).map((bin, i) => Math.abs(bin.told[pack]! - bins[i]!.told[pack]!));
  const middle = changes.sort((a, b) => a - b)[changes.length >> 1] ?? 0;
  return (1.4826 * middle) / Math.SQRT2;
}

/**
 * A sum with a drift downwards has an exponential tail above: the mean of the largest of each day stands in for its
 * scale, and is too large rather than too small.
 */
function scaleOf(lines: readonly CountLine[], bins: readonly CountBin[], pack: number): number {
  const largest = new Map<number, number>();
  for (let end = 2; end <= bins.length; end++) {
    const seen = bins.slice(Math.max(0, end - 1 - BINS_A_DAY), end);
    const day = dayOf(bins[end - 1]!.t);
    const { up, down } = furthest(lines, pack, seen, 0);
    largest.set(day, Math.max(largest.get(day) ?? 0, up.size, down.size));
  }
  const all = [...largest.values()];
  return Math.max(SCALE_MIN, all.reduce((sum, x) => sum + x, 0) / Math.max(1, all.length));
}

/** What a quarter hour brought beyond the line, jumps apart; null where too little was moved to speak of a gain. */
export function gainSeen(line: CountLine, pack: number, before: CountBin, now: CountBin) {
  const moved = now.moved[pack]! - before.moved[pack]!;
  const days = now.days[pack]! - before.days[pack]!;
  if (days === 0 || Math.abs(moved) < MOVED_MIN) return null;
  const jumped = now.jumped[pack]! - before.jumped[pack]!;
  const left = now.told[pack]! - before.told[pack]! - jumped - line.rate * days - line.gain * moved;
  return { moved, left, open2: now.open2[pack]! - before.open2[pack]! };
}

function noiseOf(line: CountLine, bins: readonly CountBin[], pack: number): number {
  const seen = bins.flatMap((bin, i) => (i === 0 ? [] : (gainSeen(line, pack, bins[i - 1]!, bin) ?? [])));
  const variance = seen.reduce((sum, { left }) => sum + left * left, 0) / Math.max(1, seen.length);
  return Math.max(NOISE_MIN, 0.4 * line.grain, Math.sqrt(variance));
}
