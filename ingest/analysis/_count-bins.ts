/** What each gauge reported less what was counted, as sums that run on from quarter hour to quarter hour. */
import type { PackHour } from '../alignment/pack-hours.ts';
import { DAY_MS, MINUTE_MS } from '../vocabulary/time.ts';

export const BIN_MS = 15 * MINUTE_MS;
export const BINS_A_DAY = DAY_MS / BIN_MS;

/**
 * Outwards beyond these, %, the voltage of a full or an empty pack leads the gauge: it holds, hastens and is set right. On the
 * way in it counts. What is left out hangs on the direction of the current alone, or rounding would not average out.
 */
const LED_PCT: readonly [number, number] = [8, 97];
/** Parked at the very end a gauge says no more, whatever a current's zero adds up to: less than 0.04 C is not believed. */
const PARKED_PCT: readonly [number, number] = [0.5, 99.5];
const PARKED_POINTS = 1;
/** What a current that always reads alike may hide, A: the scatter of what rounds away in the last digit that logs carry. */
const HIDDEN_A = 0.03;

/** Sums up to the end of a quarter hour, in order of the packs. Points of charge unless said. */
export interface CountBin {
  readonly t: number;
  /** Reported less counted change away from the ends, jumps among it. */
  readonly told: readonly number[];
  /** The jumps in it alone. */
  readonly jumped: readonly number[];
  /** All that was reported and not counted, at the ends and when the gauge was set right, too. */
  readonly all: readonly number[];
  /** Counted change, + = charged. */
  readonly moved: readonly number[];
  /** What steady currents may have hidden by rounding. */
  readonly hidden: readonly number[];
  /** Sum of the squares of what steps of the current between two samples leave open, points². */
  readonly open2: readonly number[];
  /** Days that `told` was summed over. */
  readonly days: readonly number[];
  /** Mean reported charge less the mean of the others'; null where one said nothing. */
  readonly apart: readonly (number | null)[];
}

/** Where a pack's counts stood when it last spoke. */
export interface CountMark {
  readonly residual: number;
  readonly jump: number;
  readonly netAh: number;
  readonly open2: number;
  readonly pct: number;
  /** Counted since its reported charge last changed, points, either way: a gauge that stays put meanwhile is stuck. */
  readonly unmoved: number;
  /** The smallest change of its reported charge so far, points; null before the first. */
  readonly grain: number | null;
}

const round = (value: number): number => Math.round(value * 10_000) / 10_000 + 0;

export function nextBin(
  before: CountBin | null,
  marks: readonly (CountMark | null)[],
  hour: PackHour,
  capacityAh: readonly number[],
): { readonly bin: CountBin; readonly marks: readonly (CountMark | null)[] } {
  const own = capacityAh.map((ah, k) => stepOf(marks[k] ?? null, hour, k, ah));
  const on = (sums: readonly number[] | undefined, by: (step: Step) => number): number[] =>
    own.map(({ step }, k) => round((sums?.[k] ?? 0) + (step === null ? 0 : by(step))));
  return {
    bin: {
      t: hour.t,
      told: on(before?.told, (s) => s.told + s.jumped),
      jumped: on(before?.jumped, (s) => s.jumped),
      all: on(before?.all, (s) => s.all),
      moved: on(before?.moved, (s) => s.moved),
      hidden: on(before?.hidden, (s) => s.hidden),
      open2: on(before?.open2, (s) => s.open2),
      days: on(before?.days, (s) => (s.isCounted ? BIN_MS / DAY_MS : 0)),
      apart: apartOf(hour.socPct),
    },
    marks: own.map(({ mark }) => mark),
  };
}

interface Step {
  readonly told: number;
  readonly jumped: number;
  readonly all: number;
  readonly moved: number;
  readonly hidden: number;
  readonly open2: number;
  readonly isCounted: boolean;
}

function stepOf(before: CountMark | null, hour: PackHour, k: number, capacityAh: number) {
  const [residual, jump, netAh, pct] = [hour.residualPoints[k], hour.jumpPoints[k], hour.netAh[k], hour.lastPct[k]];
  const open2 = hour.openPoints2[k];
  if (residual == null || jump == null || netAh == null || pct == null || open2 == null)
    return { step: null, mark: before };
  const change = before === null ? 0 : Math.abs(pct - before.pct);
  const grain = change < 0.005 ? (before?.grain ?? null) : Math.min(before?.grain ?? change, change);
  const movedBy = before === null ? 0 : (-100 * (netAh - before.netAh)) / capacityAh;
  const unmoved = change < 0.005 ? (before?.unmoved ?? 0) + Math.abs(movedBy) : 0;
  const mark: CountMark = { residual, jump, netAh, open2, pct, unmoved, grain };
  if (before === null) return { step: null, mark };
  const [byCount, byJump] = [residual - before.residual, jump - before.jump];
  const isLed = (by: number, least: number, most: number): boolean =>
    (by > 0 && most >= LED_PCT[1]) || (by < 0 && least <= LED_PCT[0]);
  const isParked =
    change < 0.005 && (pct >= PARKED_PCT[1] || pct <= PARKED_PCT[0]) && Math.abs(movedBy) < PARKED_POINTS;
  const isCounted = !isParked && !isLed(movedBy, Math.min(pct, before.pct), Math.max(pct, before.pct));
  const step: Step = {
    told: isCounted ? byCount : 0,
    jumped: isLed(byJump, pct, pct) ? 0 : byJump,
    all: byCount + byJump,
    moved: movedBy,
    hidden: hour.isStill[k] === true ? (100 * HIDDEN_A * (BIN_MS / 3_600_000)) / capacityAh : 0,
    open2: open2 - before.open2,
    isCounted,
  };
  return { step, mark };
}

function apartOf(socPct: readonly (number | null)[]): (number | null)[] {
  const sum = socPct.reduce((total: number | null, s) => (total === null || s === null ? null : total + s), 0);
  return socPct.map((s) => (sum === null || s === null ? null : round(s - (sum - s) / (socPct.length - 1))));
}
