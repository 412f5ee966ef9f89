/** What was proven of the shares and what they are now, and the data of their charts. Nothing here judges. */
import type { PowerBin, SharingMode } from '../alignment/power-bins.ts';
import { medianSorted } from '../math/median.ts';
import type { ProvenFigure, ShareChart } from '../vocabulary/figure.ts';
import { type EpochMs, epochMs } from '../vocabulary/time.ts';
import type { GroupState, ShareDay } from './_share-state.ts';
import type { ShareWatch } from './_share-watch.ts';

/** Days of shares that are kept for the chart. */
const DAYS_MAX = 120;
/** Bins behind the present share: about a loaded day. */
const NOW_BINS = 48;

const rounded = (value: number, decimals: number): number => Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

/** The days of a group with one more: its loaded bins of one mode. */
export function withDay(days: readonly ShareDay[], day: number, bins: readonly PowerBin[]): readonly ShareDay[] {
  if (bins.length === 0) return days;
  const shares = bins[0]!.unitW.map((_, unit) => {
    const sorted = bins.map((bin) => bin.unitW[unit]! / bin.totalW).sort((a, b) => a - b);
    return [rounded(sorted[0]!, 4), rounded(medianSorted(sorted), 4), rounded(sorted.at(-1)!, 4)] as const;
  });
  return [...days.filter((d) => d.day !== day), { day, shares }].slice(-DAYS_MAX);
}

/** Then, now and limit of each unit of a group in one mode. */
export function shareFigures(
  site: string,
  group: GroupState,
  mode: SharingMode,
  limit: number,
  untold: string | null,
): ProvenFigure[] {
  const watch = group.watches[mode];
  return group.ids.map((subject, unit) => ({
    site,
    measure: 'share' as const,
    subject,
    mode,
    limit,
    ...thenAndNow(watch, unit, untold),
  }));
}

function thenAndNow(watch: ShareWatch, unit: number, untold: string | null) {
  const { baseline } = watch;
  if (baseline === null) return { then: null, now: null, nowAt: null, because: untold };
  const { offsetW, slope } = baseline.lines[unit]!;
  const then = rounded(slope + offsetW / baseline.totalMeanW, 4);
  // While a drift shows at high load only, the loads below say nothing of it.
  const from = watch.open?.unit === unit ? watch.open.showsFromW : 0;
  const bins = watch.recent
    .filter((bin) => bin.totalW >= from && (watch.open === null || bin.t >= watch.open.start))
    .slice(-NOW_BINS);
  if (bins.length === 0) return { then, now: null, nowAt: null, because: 'no load above 20 % of the rating since' };
  const total = bins.reduce((sum, bin) => sum + bin.totalW, 0);
  const off = bins.reduce((sum, bin) => sum + bin.unitW[unit]! - offsetW - slope * bin.totalW, 0);
  return { then, now: rounded(then + off / total, 4), nowAt: epochMs(bins.at(-1)!.t), because: null };
}

/** The chart data of a group in one mode. */
export function shareChart(site: string, group: GroupState, mode: SharingMode, loadedFromW: number): ShareChart {
  const { baseline, recent } = group.watches[mode];
  return {
    site,
    phase: group.phase,
    mode,
    ids: group.ids,
    loadedFromW,
    baseline:
      baseline === null
        ? null
        : {
            from: epochMs(baseline.from),
            to: epochMs(baseline.to),
            bins: baseline.bins,
            lines: baseline.lines.map(({ offsetW, slope }) => ({
              offsetW: rounded(offsetW, 1),
              slope: rounded(slope, 5),
            })),
            sample: baseline.sample,
          },
    days: group.days[mode].map(({ day, shares }) => ({ day: day as EpochMs, shares })),
    recent: recent.map(({ t, totalW, unitW, statistic }) => ({ t, totalW, unitW, statistic: statistic ?? [] })),
  };
}
