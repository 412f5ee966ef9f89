/**
 * Frequency and voltage outside the site's band while it is on its own. One finding a grid loss, quantity
 * and edge: an excursion that comes back in the same grid loss goes on being the same condition, and one
 * that swings over both edges within five minutes is one oscillation.
 */
import type { SiteHistory } from '../site/record.ts';
import type { EvidenceValue, Finding } from '../vocabulary/finding.ts';
import { epochMs, formatTime, SECOND_MS } from '../vocabulary/time.ts';
import { excursionCauses } from './_excursion-causes.ts';
import { foldIsland } from './_island.ts';
import type { Excursion, IslandEvent } from './_island-event.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import type { Analyzer } from './analyzer.ts';

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

function evidenceOf(e: Excursion, event: IslandEvent): Record<string, EvidenceValue> {
  const { atExtreme } = e;
  return {
    grid_loss_start: formatTime(event.start),
    direction: e.direction,
    outside_s: round(e.outsideMs / SECOND_MS, 0),
    total_power_w: round(atExtreme.totalPowerW, 0),
    rated_power_w: atExtreme.ratedPowerW,
    load_pct_max: round(atExtreme.loadPctMax, 1),
    pv_power_w: round(atExtreme.pvPowerW, 0),
    ac_pv_power_w: round(atExtreme.acPvPowerW, 0),
    dc_current_a: round(atExtreme.dcCurrentA, 1),
    soc_pct: round(atExtreme.socPct, 1),
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
  version: 2,
  begin: () => beginIsland(),
  fold: foldIsland,
  answer(state, site: SiteHistory) {
    const events = state.open === null ? state.done : [...state.done, state.open];
    const findings = events.flatMap((event) => event.excursions.flatMap((e) => findingOf(e, event, site.site)));
    return { findings, cannotTell: [] };
  },
};
