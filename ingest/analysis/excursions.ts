/**
 * Frequency and voltage outside the site's band while it is on its own. One finding a grid loss, quantity
 * and edge: an excursion that comes back in the same grid loss goes on being the same condition, and one
 * that swings over both edges within five minutes is one oscillation.
 */
import type { SiteHistory } from '../site/record.ts';
import type { EvidenceValue, Finding } from '../vocabulary/finding.ts';
import { epochMs, formatTime, SECOND_MS } from '../vocabulary/time.ts';
import { excursionCauses } from './_excursion-causes.ts';
import { isWithinAlways, transientClass } from './_excursion-limits.ts';
import { foldIsland } from './_island.ts';
import type { Excursion, IslandEvent } from './_island-event.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import type { Analyzer } from './analyzer.ts';

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

/** The steepest change that neighbouring readings show. Over a window this long it is a mean, not the peak that a relay sees. */
function rateEvidence({ quantity, rate }: Excursion): Record<string, EvidenceValue> {
  const key = quantity === 'frequency' ? 'rate_of_change_hz_per_s' : 'rate_of_change_v_per_s';
  return {
    [key]: rate === null ? null : round(rate.perS, 3),
    rate_window_s: rate === null ? null : round(rate.windowS, 1),
  };
}

/** Where the extreme stands against the limits that hold for all of the time in an island, and for a set's transients. */
function limitEvidence({ quantity, value, nominal }: Excursion): Record<string, EvidenceValue> {
  const deviationPct = (100 * (value - nominal)) / nominal;
  return {
    deviation_pct: round(deviationPct, 1),
    within_en_50160_always: isWithinAlways(quantity, deviationPct),
    iso_8528_5_transient_class: transientClass(quantity, deviationPct),
  };
}

function evidenceOf(e: Excursion, event: IslandEvent): Record<string, EvidenceValue> {
  const { atExtreme } = e;
  return {
    grid_loss_start: formatTime(event.start),
    direction: e.direction,
    outside_s: round(e.outsideMs / SECOND_MS, 0),
    // From leaving the band to being back inside for good, as far as the sampling shows.
    settling_s: e.end === null ? null : round((e.end - e.start) / SECOND_MS, 0),
    ...rateEvidence(e),
    ...limitEvidence(e),
    total_power_w: round(atExtreme.totalPowerW, 0),
    rated_power_w: atExtreme.ratedPowerW,
    load_pct_max: round(atExtreme.loadPctMax, 1),
    pv_power_w: round(atExtreme.pvPowerW, 0),
    ac_pv_power_w: round(atExtreme.acPvPowerW, 0),
    dc_current_a: round(atExtreme.dcCurrentA, 1),
    soc_pct: round(atExtreme.socPct, 1),
    load_over_rating_max: round(atExtreme.loadShareMax, 2),
    hunting_test_part: round(atExtreme.huntPart, 2),
    antiphase_steps: round(atExtreme.antiphaseSteps, 1),
    common_steps: round(atExtreme.commonSteps, 1),
  };
}

function findingOf(e: Excursion, event: IslandEvent, site: string): Finding[] {
  if (e.detectedAt === null) return [];
  const decimals = e.quantity === 'frequency' ? 2 : 1;
  return [
    {
      site,
      kind: e.quantity === 'frequency' ? 'frequency_excursion' : 'voltage_excursion',
      subject: 'site',
      start: epochMs(e.start),
      detectedAt: epochMs(e.detectedAt),
      end: e.end === null ? null : epochMs(e.end),
      severity: 'soon',
      measure: e.quantity === 'frequency' ? 'output frequency in backup' : 'output voltage in backup',
      value: round(e.value, decimals),
      baseline: e.nominal,
      limit: round(e.limit, decimals),
      causes: e.quantity === 'frequency' ? excursionCauses(e) : [],
      evidence: evidenceOf(e, event),
    },
  ];
}

export const excursions: Analyzer<IslandState> = {
  name: 'excursions',
  version: 3,
  begin: () => beginIsland(),
  fold: foldIsland,
  answer(state, site: SiteHistory) {
    const events = state.open === null ? state.done : [...state.done, state.open];
    const findings = events.flatMap((event) => event.excursions.flatMap((e) => findingOf(e, event, site.site)));
    return { findings, cannotTell: [] };
  },
};
