/**
 * pack_not_carrying, told from changes of the current: a pack whose path got worse takes its part of a steady current all
 * the same, once the charges have parted, but less of every change. Method in DEVELOPERS.md, "Current of the packs".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { type PackStepHour, packSteps } from '../alignment/pack-steps.ts';
import type { SiteHistory } from '../site/record.ts';
import type { CannotTell, Finding } from '../vocabulary/finding.ts';
import { epochMs, HOUR_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { CURRENT_PART_FALL, CURRENT_PART_MEASURE } from './_current-part.ts';
import { bankOn, firstReadingFrom, goOnOrAnew } from './_pack-group.ts';
import { newStepWatch, resetSteps, type StepWatch, watchReturn, watchSteps } from './_pack-step-watch.ts';
import type { Analyzer, Answer } from './analyzer.ts';

const NOW_HOURS = 12;

interface OpenPath {
  readonly pack: number;
  readonly start: number;
  readonly detectedAt: number;
  readonly levelSum: number;
  readonly levelSince: number | null;
}

export interface PackPathState {
  readonly ids: readonly string[];
  readonly since: number | null;
  readonly pending: readonly PackStepHour[];
  readonly watch: StepWatch;
  readonly open: OpenPath | null;
  readonly ended: readonly Finding[];
}

function fresh(ids: readonly string[], since: number | null, ended: readonly Finding[]): PackPathState {
  return { ids, since, pending: [], watch: newStepWatch(ids.length), open: null, ended };
}

function fold(state: PackPathState, block: DayBlock, history: SiteHistory): PackPathState {
  const bank = bankOn(block, history);
  const { record, packs, days } = bank;
  let next = goOnOrAnew(state, bank, block.day, fresh, (end) =>
    state.open === null ? null : pathFinding(state, state.open, history, Math.max(end, state.open.detectedAt)),
  );
  if (packs.length < 2) return next;
  const capacities = packs.map((p) => p.capacity_ah);
  const hours = packSteps(days, capacities, { day: block.day, sampleIntervalS: record.sample_interval_s });
  const threshold = llrThreshold(FALSE_ALARMS_A_SITE_YEAR.pack_not_carrying / 2, 365 * 24, packs.length);
  const times = days.map((day) => day?.tMs);
  const pending: PackStepHour[] = [];
  for (const hour of [...next.pending, ...hours]) {
    const closedAt = firstReadingFrom(times, hour.t + HOUR_MS);
    if (closedAt === null) pending.push(hour);
    else if (hour.t >= (next.since ?? Number.NEGATIVE_INFINITY))
      next = takeHour(next, hour, closedAt, threshold, history);
  }
  return { ...next, pending };
}

function takeHour(
  state: PackPathState,
  hour: PackStepHour,
  closedAt: number,
  threshold: number,
  history: SiteHistory,
): PackPathState {
  const { open } = state;
  if (open === null) {
    const { watch, fallen } = watchSteps(state.watch, hour, threshold);
    return fallen === null
      ? { ...state, watch }
      : { ...state, watch, open: { ...fallen, detectedAt: closedAt, levelSum: 0, levelSince: null } };
  }
  const { watch, levelSum, isOver } = watchReturn(state.watch, open.pack, open.levelSum, hour);
  const levelSince = levelSum === 0 ? null : (open.levelSince ?? hour.t);
  if (!isOver) return { ...state, watch, open: { ...open, levelSum, levelSince } };
  const finding = pathFinding({ ...state, watch }, open, history, Math.max(levelSince ?? hour.t, open.start), closedAt);
  return { ...state, watch: resetSteps(watch), open: null, ended: [...state.ended, finding] };
}

const thousandths = (value: number): number => Math.round(value * 1000) / 1000 + 0;

function pathFinding(
  { watch, ids }: PackPathState,
  open: OpenPath,
  history: SiteHistory,
  end: number | null,
  endToldAt = end,
): Finding {
  const lasting = watch.recent.filter((h) => h.t >= open.start && (end === null || h.t < end));
  const since = (lasting.length > 0 ? lasting : watch.recent).slice(-NOW_HOURS);
  const partOf = (pack: number): number =>
    thousandths(since.reduce((sum, h) => sum + h.parts[pack]!, 0) / Math.max(1, since.length));
  const own = watch.baseline!.packs[open.pack]!;
  return {
    site: history.site,
    kind: 'pack_not_carrying',
    subject: ids[open.pack]!,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(end),
    ...(endToldAt === null ? {} : { endToldAt: epochMs(endToldAt) }),
    severity: 'soon',
    measure: CURRENT_PART_MEASURE,
    value: partOf(open.pack),
    baseline: thousandths(own.mean),
    limit: thousandths(CURRENT_PART_FALL * own.mean),
    causes: [],
    evidence: {
      told_by: 'changes of the current: steady, a pack with a worse path takes its part',
      hours_now: since.length,
      baseline_hours: watch.baseline!.hours,
      scatter: thousandths(own.scatter),
      parts_of_changes_now: ids.map((_, pack) => partOf(pack)),
      parts_of_changes_proven: watch.baseline!.packs.map(({ mean }) => thousandths(mean)),
    },
  };
}

function answer(state: PackPathState, history: SiteHistory): Answer {
  const open = state.open === null ? [] : [pathFinding(state, state.open, history, null)];
  const cannotTell: CannotTell[] = [];
  return { findings: [...state.ended, ...open], cannotTell };
}

export const packPath: Analyzer<PackPathState> = {
  name: 'pack_path',
  version: 2,
  begin: () => fresh([], null, []),
  fold,
  answer,
};
