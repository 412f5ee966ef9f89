/** Every grid loss with the site on its own: when, how long, whether it held, what it delivered. */

import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { BackupEvent } from '../vocabulary/finding.ts';
import { epochMs, SECOND_MS } from '../vocabulary/time.ts';
import { foldIsland } from './_island.ts';
import type { IslandEvent } from './_island-event.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import type { Analyzer } from './analyzer.ts';

/** Raises no finding: a grid loss is no fault of the site's. `backupEvents` reads what it found. */
export const backupEventsAnalyzer: Analyzer<IslandState> = {
  name: 'backup_events',
  version: 3,
  begin: () => beginIsland(),
  fold: foldIsland,
  answer: () => ({ findings: [], cannotTell: [] }),
};

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

/**
 * Whole seconds from the last reading on the grid. Where the log begins within the event nothing bounds it: then it is
 * the interval at which the site was to send.
 */
function startUncertaintyS({ start, lastOnBefore }: IslandEvent, site: SiteHistory): number {
  return lastOnBefore === null
    ? recordAt(site, start).sample_interval_s
    : Math.ceil((start - lastOnBefore) / SECOND_MS);
}

function eventOf(event: IslandEvent, site: SiteHistory): BackupEvent {
  const { tally } = event;
  const energies = Object.values(tally.energyWh);
  const ids = [...new Set([...event.members, ...Object.keys(tally.energyWh)])].sort();
  return {
    site: site.site,
    start: epochMs(event.start),
    end: event.end === null ? null : epochMs(event.end),
    startUncertaintyS: startUncertaintyS(event, site),
    held: !tally.left,
    outputLostS: tally.lostMs / SECOND_MS,
    occasion: 'unknown',
    energyWh:
      energies.length === 0
        ? null
        : round(
            energies.reduce((a, b) => a + b, 0),
            0,
          ),
    peakW: round(tally.peakW, 0),
    socStartPct: round(event.socStartPct, 1),
    socEndPct: round(tally.socPct, 1),
    frequencyMinHz: round(tally.frequencyMinHz, 2),
    frequencyMaxHz: round(tally.frequencyMaxHz, 2),
    voltageMinV: round(tally.voltageMinV, 1),
    voltageMaxV: round(tally.voltageMaxV, 1),
    units: Object.fromEntries(ids.map((id) => [id, { energyWh: round(tally.energyWh[id] ?? null, 0) }])),
  };
}

/** The site's grid losses in order of their start; one that still lasts has `end` null and the charge so far. */
export function backupEvents(state: IslandState, site: SiteHistory): BackupEvent[] {
  const lasting = state.open?.confirmedAt != null ? [state.open] : [];
  return [...state.done, ...lasting].map((event) => eventOf(event, site));
}
