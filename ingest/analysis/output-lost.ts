/** The backup output gone: every unit of a phase group without output, on the grid or off it. */
import type { SiteHistory } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs } from '../vocabulary/time.ts';
import { foldIsland } from './_island.ts';
import type { OutputLoss } from './_island-output.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import { OUTPUT_GONE } from './_unit-now.ts';
import type { Analyzer } from './analyzer.ts';

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

function findingOf(loss: OutputLoss, site: string): Finding {
  return {
    site,
    kind: 'output_lost',
    subject: 'site',
    start: epochMs(loss.start),
    detectedAt: epochMs(loss.start),
    end: loss.end === null ? null : epochMs(loss.end),
    severity: 'urgent',
    measure: 'output voltage',
    value: round(loss.voltageV, 1),
    baseline: loss.nominalV,
    limit: round(OUTPUT_GONE * loss.nominalV, 1),
    causes: [],
    evidence: {
      phases: loss.phases,
      during_grid_loss: loss.duringGridLoss,
      soc_pct: round(loss.socPct, 1),
      load_before_w: round(loss.loadBeforeW, 0),
      rated_power_w: loss.ratedPowerW,
      heatsink_temperature_max_c: round(loss.temperatureMaxC, 1),
      modes: loss.modes,
    },
  };
}

export const outputLost: Analyzer<IslandState> = {
  name: 'output_lost',
  version: 2,
  begin: () => beginIsland(),
  fold: foldIsland,
  answer(state, site: SiteHistory) {
    const losses = state.loss === null ? state.losses : [...state.losses, state.loss];
    return { findings: losses.map((loss) => findingOf(loss, site.site)), cannotTell: [] };
  },
};
