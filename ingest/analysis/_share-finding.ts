/** An open or ended drift → a finding with its figures, causes and severity. */
import type { SharingMode } from '../alignment/power-bins.ts';
import { pathResistanceOhm } from '../electrical/cable-resistance.ts';
import { recordAt } from '../site/history.ts';
import type { SharingLaw, SiteRecord } from '../site/record.ts';
import type { Finding, Severity } from '../vocabulary/finding.ts';
import { epochMs } from '../vocabulary/time.ts';
import type { ShareBaseline, ShareBin } from './_share-baseline.ts';
import { type ShareCauses, shareCauses } from './_share-causes.ts';
import { movedSetpoint } from './_share-node.ts';
import type { DriftCase, GroupState } from './_share-state.ts';

/** Bins behind the present figures: about a loaded day. */
const NOW_BINS = 48;
/** Conductors in use; the change with temperature is small beside the change of a terminal. */
const CONDUCTOR_C = 30;

const round = (value: number, decimals: number): number => Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

/** @returns null without a baseline or any bin: nothing to show, nothing to say */
export function driftFinding({ group, mode, watch, drift, end, history }: DriftCase): Finding | null {
  const { baseline } = watch;
  if (baseline === null) return null;
  const lasting = watch.recent.filter((bin) => bin.t >= drift.start && (end === null || bin.t < end));
  const since = lasting.length > 0 ? lasting : watch.recent;
  // While the share shows only at high load, the bins below say nothing of it.
  const showing = since.filter((bin) => bin.totalW >= drift.showsFromW);
  const shown = (showing.length > 0 ? showing : since).slice(-NOW_BINS);
  if (shown.length === 0) return null;
  const record = recordAt(history, drift.detectedAt);
  const law = record.sharing[mode];
  const { unit } = drift;
  const id = group.ids[unit]!;
  const line = baseline.lines[unit]!;
  const total = shown.reduce((sum, bin) => sum + bin.totalW, 0);
  const value = shown.reduce((sum, bin) => sum + bin.unitW[unit]!, 0) / total;
  const proven = shown.reduce((sum, bin) => sum + line.offsetW + line.slope * bin.totalW, 0) / total;
  const causes = shareCauses(baseline, unit, since, mode, law);
  const peakA = peakNow(group, unit, drift.start, causes.factor);
  const path = pathEvidence(record, id, peakA, baseline.lines[unit]!.slope, causes, mode, law);
  const first = causes.causes[0]?.cause ?? null;
  const falling = value < proven ? unit : 1 - unit;
  const isUntold =
    first === 'setpoint_offset' && group.ids.length === 2 && movedSetpoint(baseline, falling, since) === null;
  const severity: Severity =
    first === 'feeder_resistance' && path.heat_at_peak_w !== undefined && path.heat_at_peak_w > record.limits.heat_w
      ? 'urgent'
      : 'soon';
  return {
    site: history.site,
    kind: 'share_drift',
    subject: isUntold ? null : id,
    ...(isUntold ? { candidates: group.ids } : {}),
    start: epochMs(drift.start),
    detectedAt: epochMs(drift.detectedAt),
    end: end === null ? null : epochMs(end),
    severity,
    measure: 'share of output power',
    value: round(value, 4),
    baseline: round(proven, 4),
    limit: record.limits.share_points / 100,
    causes: causes.causes,
    evidence: {
      unit: id,
      ...figures(baseline, unit, shown, mode, group.phase, drift.form),
      ...causeFigures(causes),
      ...path,
    },
  };
}

function figures(
  baseline: ShareBaseline,
  unit: number,
  shown: readonly ShareBin[],
  mode: SharingMode,
  phase: string,
  form: string,
) {
  const line = baseline.lines[unit]!;
  return {
    mode,
    phase,
    onset_form: form,
    bins_now: shown.length,
    load_mean_w: round(shown.reduce((sum, bin) => sum + bin.totalW, 0) / shown.length, 0),
    baseline_from: new Date(baseline.from).toISOString(),
    baseline_to: new Date(baseline.to).toISOString(),
    baseline_bins: baseline.bins,
    baseline_slope: round(line.slope, 4),
    baseline_offset_w: round(line.offsetW, 0),
    variance_inflation: round(line.inflation, 1),
  };
}

function causeFigures({ factor, offsetChangeW, ceilingW }: ShareCauses) {
  return {
    slope_factor: round(factor, 3),
    offset_change_w: round(offsetChangeW, 0),
    ...(ceilingW === null ? {} : { ceiling_w: round(ceilingW, 0) }),
  };
}

/** The unit's current at the peak load of 30 days: what it carried before the drift it would not carry now. */
function peakNow({ peaksA }: GroupState, unit: number, start: number, factor: number): number {
  return Math.max(0, ...peaksA.map(({ day, unitA }) => (day <= start ? factor : 1) * unitA[unit]!));
}

interface PathEvidence {
  readonly resistance_ratio?: number;
  readonly resistance_added_mohm?: number;
  readonly heat_at_peak_w?: number;
  readonly peak_current_a?: number;
}

/**
 * From slopes to a resistance. Slopes give ratios; milliohms need the known path, so they are told in wired operation
 * with both cables in the record, and only then.
 */
function pathEvidence(
  record: SiteRecord,
  id: string,
  peakA: number,
  slope: number,
  causes: ShareCauses,
  mode: SharingMode,
  law: SharingLaw | null,
): PathEvidence {
  if (causes.causes[0]?.cause !== 'feeder_resistance' || causes.factor <= 0) return {};
  const now = slope * causes.factor;
  if (!(slope > 0 && slope < 1 && now > 0 && now < 1)) return {};
  // b = G/(G + G_rest), G_rest unchanged: R_now/R = (b/(1−b)) · ((1−b_now)/b_now).
  const ratio = (slope / (1 - slope)) * ((1 - now) / now);
  const told = { resistance_ratio: round(ratio, 3) };
  const isWired = law === 'wired' || (law === null && mode === 'grid');
  const cables = record.units.find((u) => u.id === id);
  if (!isWired || ratio <= 1 || cables?.output_cable == null || cables.input_cable == null) return told;
  const pathOhm =
    pathResistanceOhm(cables.output_cable, CONDUCTOR_C) + pathResistanceOhm(cables.input_cable, CONDUCTOR_C);
  const addedOhm = pathOhm * (ratio - 1);
  if (peakA === 0) return { ...told, resistance_added_mohm: round(addedOhm * 1000, 1) };
  return {
    ...told,
    resistance_added_mohm: round(addedOhm * 1000, 1),
    peak_current_a: round(peakA, 1),
    heat_at_peak_w: round(peakA ** 2 * addedOhm, 1),
  };
}
