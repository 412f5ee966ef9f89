/** What is said of a gauge that reports what never flowed, and of a pack that holds less. */
import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, formatTime } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR } from './_budget.ts';
import { CAPACITY_SWING, swingOf } from './_capacity-watch.ts';
import type { CountState } from './_count-state.ts';
import { againstOthers } from './_gauge-watch.ts';

const to = (decimals: number, value: number): number => Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

/** null where the pack's gauge has nothing open. */
export function gaugeFinding(
  state: CountState,
  pack: number,
  history: SiteHistory,
  end: number | null,
  endToldAt: number | null,
): Finding | null {
  const { open } = state.gauge[pack]!;
  const now = state.bins.at(-1);
  if (open === null || now === undefined || state.lines === null) return null;
  const line = state.lines[pack]!;
  const apart = now.apart[pack] ?? null;
  return {
    site: history.site,
    kind: 'soc_divergence',
    subject: state.ids[pack]!,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(Math.max(end, open.start)),
    ...(endToldAt === null ? {} : { endToldAt: epochMs(endToldAt) }),
    severity: 'soon',
    measure: "state of charge less the others'",
    value: apart === null ? null : to(2, apart),
    baseline: to(2, line.apart),
    limit: to(2, open.threshold),
    causes: [
      { cause: 'gauge_error', weight: to(2, open.weight) },
      { cause: 'capacity_loss', weight: to(2, 1 - to(2, open.weight)) },
    ],
    evidence: {
      told_by: open.isJump
        ? 'the reported charge jumped, and no current explains it'
        : 'the reported charge runs away from the ampere-hours counted',
      statistic_points: to(2, open.statistic),
      threshold_points: to(2, open.threshold),
      budget_a_site_year: FALSE_ALARMS_A_SITE_YEAR.soc_divergence / 2,
      reported_less_counted_points: state.ids.map((_, k) => to(1, now.all[k]! - open.from.all[k]!)),
      against_others_points: to(1, againstOthers(pack, open.from, now)),
      proven_points_a_day: to(2, line.rate),
      baseline_from: formatTime(state.learntFrom),
      baseline_to: formatTime(state.learntTo),
    },
  };
}

/** null where the pack has no loss open. */
export function capacityFinding(
  state: CountState,
  pack: number,
  history: SiteHistory,
  end: number | null,
  endToldAt: number | null,
): Finding | null {
  const watch = state.capacity[pack]!;
  const { open } = watch;
  if (open === null || state.lines === null) return null;
  const line = state.lines[pack]!;
  const record = recordAt(history, open.detectedAt);
  const ratedAh = record.packs.find((p) => p.id === state.ids[pack])?.capacity_ah ?? null;
  const { more, error } = swingOf(watch, line);
  const [proven, swing] = [1 + line.gain, 1 + line.gain + more];
  return {
    site: history.site,
    kind: 'pack_capacity_loss',
    subject: state.ids[pack]!,
    start: epochMs(open.start),
    detectedAt: epochMs(open.detectedAt),
    end: end === null ? null : epochMs(Math.max(end, open.start)),
    ...(endToldAt === null ? {} : { endToldAt: epochMs(endToldAt) }),
    severity: 'plan',
    measure: 'capacity, Ah',
    value: ratedAh === null ? null : to(1, ratedAh / swing),
    baseline: ratedAh === null ? null : to(1, ratedAh / proven),
    limit: ratedAh === null ? null : to(1, ratedAh * (1 - 1 / (1 + CAPACITY_SWING))),
    causes: [],
    evidence: {
      told_by: 'more change of reported charge for the same ampere-hours',
      swing_reported_over_counted: to(3, swing),
      swing_proven: to(3, proven),
      capacity_uncertainty_ah: ratedAh === null ? null : to(1, (ratedAh * error) / swing ** 2),
      counted_points: to(0, watch.moved),
      statistic: to(1, open.statistic),
      threshold: to(1, open.threshold),
      budget_a_site_year: FALSE_ALARMS_A_SITE_YEAR.pack_capacity_loss,
      baseline_from: formatTime(state.learntFrom),
      baseline_to: formatTime(state.learntTo),
    },
  };
}
