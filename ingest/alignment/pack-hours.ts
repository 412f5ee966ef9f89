/**
 * Hours of the packs, or other even parts of a day: reported charge, own ampere-hour count, mean current. An hour is a pure
 * function of the readings inside it, except that the count runs on from the last reading of the hour before.
 */
import { DAY_MS, HOUR_MS, SECOND_MS } from '../vocabulary/time.ts';
import { columnOf, type SourceDay } from './day-block.ts';

/**
 * A change of reported charge within one sample that is further than this from what the current explains is a jump of
 * the gauge. The current may have stepped anywhere between the two samples; what that leaves open is granted besides.
 */
const JUMP_POINTS = 1.5;
/** Over a longer gap nothing is counted. */
const GAP_INTERVALS = 6;
const GAP_MIN_MS = 10 * 60_000;

/** Where a pack's count stands after its last reading. */
export interface PackCount {
  readonly t: number;
  readonly socPct: number;
  readonly currentA: number | null;
  /**
   * Reported change of charge less the change that the counted ampere-hours explain, points, summed since the count began;
   * jumps and gaps are left out. A gauge that tells the truth keeps it near 0.
   */
  readonly residualPoints: number;
  /** The jumps alone: resyncs at a full charge, and charges lost or made up. */
  readonly jumpPoints: number;
  /** Counted net charge, Ah, + = discharged. */
  readonly netAh: number;
  /** Sum of the squares of what each sample leaves open, because the current may have stepped anywhere before it, points². */
  readonly openPoints2: number;
}

export interface PackHour {
  readonly t: number;
  readonly endMs: number;
  /** Mean reported charge of each pack, %; null where it said nothing. */
  readonly socPct: readonly (number | null)[];
  /** Mean current of each pack, A, + = discharging; null where it said nothing. */
  readonly currentA: readonly (number | null)[];
  readonly residualPoints: readonly (number | null)[];
  readonly jumpPoints: readonly (number | null)[];
  readonly netAh: readonly (number | null)[];
  readonly openPoints2: readonly (number | null)[];
  /** The last reported charge of each pack, %; null where it said nothing. */
  readonly lastPct: readonly (number | null)[];
  /** Whether every current of the pack reads alike: then what is rounded away does not average out. */
  readonly isStill: readonly boolean[];
}

export interface PackHoursResult {
  readonly hours: readonly PackHour[];
  readonly counts: readonly (PackCount | null)[];
}

/**
 * The hours of a day in which at least two packs reported a charge.
 *
 * @param packs      in order of the record; undefined where silent all day
 * @param capacityAh of each
 * @param counts     where each pack's count stands from the day before
 * @param lengthMs   of a part, where it is not an hour; divides the day
 */
export function packHours(
  packs: readonly (SourceDay | undefined)[],
  capacityAh: readonly number[],
  counts: readonly (PackCount | null)[],
  {
    day,
    sampleIntervalS,
    lengthMs = HOUR_MS,
  }: { readonly day: number; readonly sampleIntervalS: number; readonly lengthMs?: number },
): PackHoursResult {
  const gapMs = Math.max(GAP_MIN_MS, GAP_INTERVALS * sampleIntervalS * SECOND_MS);
  const columns = packs.map((pack) => ({
    tMs: pack?.tMs ?? new Float64Array(0),
    soc: columnOf(pack, 'soc_pct'),
    amps: columnOf(pack, 'pack_current_a'),
  }));
  const running = [...counts];
  const rows = packs.map(() => 0);
  const hours: PackHour[] = [];
  for (let t = day; t < day + DAY_MS; t += lengthMs) {
    const of = columns.map(({ tMs, soc, amps }, k) => {
      let socSum = 0;
      let socs = 0;
      let ampSum = 0;
      let ampCount = 0;
      let least = Number.POSITIVE_INFINITY;
      let most = Number.NEGATIVE_INFINITY;
      let row = rows[k]!;
      for (; row < tMs.length && tMs[row]! < t + lengthMs; row++) {
        const charge = soc?.[row] ?? Number.NaN;
        const current = amps?.[row] ?? Number.NaN;
        if (!Number.isNaN(current)) {
          ampSum += current;
          ampCount++;
          least = Math.min(least, current);
          most = Math.max(most, current);
        }
        if (Number.isNaN(charge)) continue;
        socSum += charge;
        socs++;
        running[k] = counted(
          running[k] ?? null,
          tMs[row]!,
          charge,
          Number.isNaN(current) ? null : current,
          capacityAh[k]!,
          gapMs,
        );
      }
      rows[k] = row;
      const count = running[k] ?? null;
      return {
        socPct: socs === 0 ? null : socSum / socs,
        currentA: ampCount === 0 ? null : ampSum / ampCount,
        residualPoints: socs === 0 ? null : (count?.residualPoints ?? null),
        jumpPoints: socs === 0 ? null : (count?.jumpPoints ?? null),
        netAh: socs === 0 ? null : (count?.netAh ?? null),
        openPoints2: socs === 0 ? null : (count?.openPoints2 ?? null),
        lastPct: socs === 0 ? null : (count?.socPct ?? null),
        isStill: least >= most,
      };
    });
    if (of.filter(({ socPct }) => socPct !== null).length < 2) continue;
    hours.push({
      t,
      endMs: t + lengthMs,
      socPct: of.map((p) => p.socPct),
      currentA: of.map((p) => p.currentA),
      residualPoints: of.map((p) => p.residualPoints),
      jumpPoints: of.map((p) => p.jumpPoints),
      netAh: of.map((p) => p.netAh),
      openPoints2: of.map((p) => p.openPoints2),
      lastPct: of.map((p) => p.lastPct),
      isStill: of.map((p) => p.isStill),
    });
  }
  return { hours, counts: running };
}

function counted(
  before: PackCount | null,
  t: number,
  socPct: number,
  currentA: number | null,
  capacityAh: number,
  gapMs: number,
): PackCount {
  if (before === null || before.currentA === null || currentA === null || t - before.t > gapMs) {
    const { residualPoints = 0, jumpPoints = 0, netAh = 0, openPoints2 = 0 } = before ?? {};
    return { t, socPct, currentA, residualPoints, jumpPoints, netAh, openPoints2 };
  }
  const movedAh = (((before.currentA + currentA) / 2) * (t - before.t)) / HOUR_MS;
  const unexplained = socPct - before.socPct + (100 * movedAh) / capacityAh;
  const openAh = (Math.abs(currentA - before.currentA) * (t - before.t)) / 2 / HOUR_MS;
  const openPoints = (100 * openAh) / capacityAh;
  const isJump = Math.abs(unexplained) > JUMP_POINTS + openPoints;
  return {
    t,
    socPct,
    currentA,
    residualPoints: before.residualPoints + (isJump ? 0 : unexplained),
    jumpPoints: before.jumpPoints + (isJump ? unexplained : 0),
    netAh: before.netAh + movedAh,
    openPoints2: before.openPoints2 + openPoints ** 2,
  };
}
