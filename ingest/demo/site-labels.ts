/** What was put into a site and what came of it, as labels. */
import { formatTime } from '../vocabulary/time.ts';
import { faultLabels } from './faults.ts';
import type { EventLabel, FaultLabel, SiteLabels } from './labels.ts';
import type { OutageTruth, SiteState } from './site-state.ts';

function outageFaults(truth: OutageTruth, state: SiteState): FaultLabel[] {
  const labels: FaultLabel[] = [];
  if (!Number.isNaN(truth.frequencyFrom)) {
    labels.push({
      kind: 'frequency_excursion',
      subject: 'site',
      start: formatTime(truth.frequencyFrom),
      end: formatTime(truth.frequencyTo),
      cause: 'overload',
      note: `load beyond the set's rating on its own: down to ${truth.frequencyMinHz.toFixed(2)} Hz`,
    });
  }
  if (!Number.isNaN(truth.voltageFrom)) {
    labels.push({
      kind: 'voltage_excursion',
      subject: 'site',
      start: formatTime(truth.voltageFrom),
      end: formatTime(truth.voltageTo),
      note: `output sags with load on its own: down to ${truth.voltageMinV.toFixed(1)} V`,
    });
  }
  if (truth.lostS > 0) {
    const isTripped = state.plan.faults.some((fault) => fault.what === 'overload');
    labels.push({
      kind: 'output_lost',
      subject: 'site',
      start: formatTime(truth.lostFrom),
      end: formatTime(Math.round(truth.lostTo)),
      note: isTripped ? 'all units tripped on overload' : 'battery ran dry',
    });
  }
  return labels;
}

function eventLabel(truth: OutageTruth, state: SiteState): EventLabel {
  const { outage } = truth;
  const isInBand = Number.isNaN(truth.frequencyFrom) && Number.isNaN(truth.voltageFrom) && truth.lostS === 0;
  const isCut = state.plan.faults.some(
    (f) => f.what === 'router_down' && f.start < outage.end && (f.end === null || f.end > outage.start),
  );
  return {
    start: formatTime(outage.start),
    end: formatTime(outage.end),
    held: isInBand,
    output_lost_s: truth.lostS,
    occasion: outage.occasion,
    telemetry: isCut ? 'cut' : 'full',
  };
}

/** The labels of a site whose whole period has been simulated. */
export function labelSite(state: SiteState): SiteLabels {
  const { plan } = state;
  const faults = [...faultLabels(plan.faults), ...state.truths.flatMap((truth) => outageFaults(truth, state))];
  return {
    site: plan.id,
    name: plan.name,
    healthy: plan.faults.length === 0,
    faults: faults.sort((a, b) => (a.start < b.start ? -1 : a.start > b.start ? 1 : 0)),
    events: state.truths.map((truth) => eventLabel(truth, state)),
    remarks: plan.remarks,
  };
}
