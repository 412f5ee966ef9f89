/** Controllers that fight while the site is on its own: one finding a grid loss. The test stands in `_hunt.ts`. */
import type { SiteHistory } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, formatTime } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR } from './_budget.ts';
import { foldIsland } from './_island.ts';
import type { IslandEvent } from './_island-event.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import type { Analyzer } from './analyzer.ts';

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

function findingOf(event: IslandEvent, site: string): Finding[] {
  const { hunt, confirmedAt } = event;
  if (hunt.raisedAt === null || hunt.start === null || confirmedAt === null) return [];
  const swungHz = hunt.lowHz === null || hunt.highHz === null ? null : hunt.highHz - hunt.lowHz;
  return [
    {
      site,
      kind: 'hunting',
      subject: 'site',
      start: epochMs(hunt.start),
      detectedAt: epochMs(Math.max(hunt.raisedAt, confirmedAt)),
      end: hunt.end === null ? null : epochMs(hunt.end),
      severity: 'soon',
      measure: 'swing of the output frequency',
      value: round(swungHz, 2),
      baseline: null,
      limit: null,
      causes: [],
      evidence: {
        grid_loss_start: formatTime(event.start),
        frequency_min_hz: round(hunt.lowHz, 2),
        frequency_max_hz: round(hunt.highHz, 2),
        power_swing_w: round(hunt.swingW, 0),
        readings: hunt.readings,
        readings_that_turn: hunt.turns,
        turns_in_antiphase: hunt.antiphase,
        statistic: round(hunt.statistic, 2),
        threshold: round(hunt.threshold, 2),
        false_alarms_a_year: FALSE_ALARMS_A_SITE_YEAR.hunting,
      },
    },
  ];
}

export const hunting: Analyzer<IslandState> = {
  name: 'hunting',
  version: 1,
  begin: () => beginIsland(),
  fold: foldIsland,
  answer(state, site: SiteHistory) {
    const events = state.open === null ? state.done : [...state.done, state.open];
    return { findings: events.flatMap((event) => findingOf(event, site.site)), cannotTell: [] };
  },
};
