/**
 * soc_divergence and pack_capacity_loss, told from ampere-hours that are counted here: a gauge that reports charge which never
 * flowed, and a pack that reports more change for the same ampere-hours. Far sooner than packs have parted by what matters,
 * and it knows which pack. Method in DEVELOPERS.md, "Count of the packs".
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { type PackHour, packHours } from '../alignment/pack-hours.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import type { SiteHistory } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { dayOf } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { NEW_CAPACITY, watchCapacity } from './_capacity-watch.ts';
import { BIN_MS, BINS_A_DAY, nextBin } from './_count-bins.ts';
import { capacityFinding, gaugeFinding } from './_count-findings.ts';
import { fitCounts, WINDOW_BINS } from './_count-line.ts';
import { type CountState, freshCount } from './_count-state.ts';
import { NEW_GAUGE, watchGauge, watchGaugeEnd } from './_gauge-watch.ts';
import { bankOn, goOnOrAnew } from './_pack-group.ts';
import type { Analyzer } from './analyzer.ts';

const BASELINE_DAYS = 7;
/** A day with fewer quarter hours is no day of the baseline. */
const DAY_BINS_MIN = 48;

function fold(state: CountState, block: DayBlock, history: SiteHistory): CountState {
  const bank = bankOn(block, history);
  const { record, packs, days, ids, since } = bank;
  let next = state;
  if (state.ids.join() !== ids.join() || state.since !== since) {
    const closed = openFindings(state, history, record.validFrom ?? block.day);
    next = goOnOrAnew({ ...state, ended: [...state.ended, ...closed] }, bank, block.day, freshCount, () => null);
  }
  if (packs.length < 2) return next;
  const capacityAh = packs.map((p) => p.capacity_ah);
  const options = { day: block.day, sampleIntervalS: record.sample_interval_s, lengthMs: BIN_MS };
  const { hours, counts } = packHours(days, capacityAh, next.counts, options);
  next = { ...next, counts };
  const times = days.flatMap((day) => (day === undefined ? [] : [day.tMs]));
  const pending: PackHour[] = [];
  for (const hour of [...next.pending, ...hours]) {
    const closedAt = firstFrom(times, hour.endMs);
    if (closedAt === null) pending.push(hour);
    else if (hour.t >= (next.since ?? Number.NEGATIVE_INFINITY))
      next = takeBin(next, hour, closedAt, capacityAh, history);
  }
  return { ...next, pending };
}

function firstFrom(times: readonly Float64Array[], t: number): number | null {
  const found = times.flatMap((tMs) => tMs[firstRowAt(tMs, t)] ?? []);
  return found.length === 0 ? null : Math.min(...found);
}

function takeBin(
  state: CountState,
  hour: PackHour,
  closedAt: number,
  capacityAh: readonly number[],
  history: SiteHistory,
): CountState {
  const { bin, marks } = nextBin(state.bins.at(-1) ?? null, state.marks, hour, capacityAh);
  if (state.lines === null) {
    const learnt = { ...state, bins: [...state.bins, bin], marks };
    return isLearnt(learnt.bins) ? withLines(learnt) : learnt;
  }
  const next: CountState = { ...state, marks, bins: [...state.bins, bin].slice(-1 - WINDOW_BINS) };
  return state.ids.reduce<CountState>((own, _, pack) => takePack(own, pack, hour, closedAt, history), next);
}

function isLearnt(bins: CountState['bins']): boolean {
  const newest = bins.at(-1)!.t;
  if (newest % BIN_MS !== 0 || dayOf(newest) === dayOf(bins.at(-2)?.t ?? newest)) return false;
  const byDay = new Map<number, number>();
  for (const { t, apart } of bins)
    if (apart.every((a) => a !== null)) byDay.set(dayOf(t), (byDay.get(dayOf(t)) ?? 0) + 1);
  const days = [...byDay].filter(([day, count]) => count >= DAY_BINS_MIN && day !== dayOf(newest)).length;
  return days >= BASELINE_DAYS;
}

function withLines(state: CountState): CountState {
  const { bins, marks } = state;
  const grains = marks.map((mark) => mark?.grain ?? null);
  const lines = fitCounts(bins, grains);
  return { ...state, lines, learntFrom: bins[0]!.t, learntTo: bins.at(-1)!.t, bins: bins.slice(-1 - WINDOW_BINS) };
}

/** A pack's own tests at the newest quarter hour. */
function takePack(state: CountState, pack: number, hour: PackHour, closedAt: number, history: SiteHistory): CountState {
  const line = state.lines![pack]!;
  const n = state.ids.length;
  const [before, now] = [state.bins.at(-2)!, state.bins.at(-1)!];
  const capacity = watchCapacity(state.capacity[pack]!, {
    line,
    pack,
    before,
    now,
    isStuck: hour.isStill[pack] === true && hour.isStill.some((isStill) => !isStill),
    closedAt,
    threshold: llrThreshold(FALSE_ALARMS_A_SITE_YEAR.pack_capacity_loss, 365 * BINS_A_DAY, n),
  });
  let { ended } = state;
  if (capacity.endedAt !== null) ended = [...ended, capacityFinding(state, pack, history, capacity.endedAt, closedAt)!];
  let gauge = state.gauge[pack]!;
  if (gauge.open !== null) {
    const moved = watchGaugeEnd(gauge, gauge.open, pack, now);
    if (moved.endedAt !== null) ended = [...ended, gaugeFinding(state, pack, history, moved.endedAt, closedAt)!];
    gauge = moved.watch;
  } else if (capacity.watch.open === null) {
    const logTrials = Math.log((365 * 2 * n) / (FALSE_ALARMS_A_SITE_YEAR.soc_divergence / 2));
    gauge = watchGauge(gauge, {
      lines: state.lines!,
      pack,
      bins: state.bins,
      unmoved: state.marks[pack]?.unmoved ?? 0,
      closedAt,
      logTrials,
    });
  } else gauge = { ...NEW_GAUGE, since: now.t };
  const put = <Of>(all: readonly Of[], own: Of): Of[] => all.map((before, k) => (k === pack ? own : before));
  return {
    ...state,
    gauge: put(state.gauge, gauge),
    capacity: put(state.capacity, capacity.endedAt === null ? capacity.watch : NEW_CAPACITY),
    ended,
  };
}

function openFindings(state: CountState, history: SiteHistory, end: number | null): Finding[] {
  return state.ids.flatMap((_, pack) =>
    [gaugeFinding(state, pack, history, end, end), capacityFinding(state, pack, history, end, end)].filter(
      (finding) => finding !== null,
    ),
  );
}

export const packCount: Analyzer<CountState> = {
  name: 'pack_count',
  version: 3,
  begin: () => freshCount([], null, []),
  fold,
  answer: (state, history) => ({ findings: [...state.ended, ...openFindings(state, history, null)], cannotTell: [] }),
};
