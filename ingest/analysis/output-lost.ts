/** The backup output gone: every unit of a phase group without output, on the grid or off it; and what took it away. */
import type { DayBlock } from '../alignment/day-block.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, MINUTE_MS } from '../vocabulary/time.ts';
import { foldIsland } from './_island.ts';
import type { OutputLoss } from './_island-output.ts';
import { beginIsland, type IslandState } from './_island-state.ts';
import { type LossContext, lossReasons } from './_loss-reason.ts';
import { settingNumber } from './_setting-values.ts';
import { OUTPUT_GONE } from './_unit-now.ts';
import { type AlarmsState, alarms, alarmsWithin } from './alarms.ts';
import type { Analyzer } from './analyzer.ts';

interface Cutoff {
  readonly unit: string;
  readonly t: number;
  /** %; null where contradicting lines leave it undecided. */
  readonly pct: number | null;
}

export interface OutputLostState {
  readonly island: IslandState;
  readonly alarms: AlarmsState;
  /** Changes of the charge at which a unit stops, in order of time. */
  readonly cutoffs: readonly Cutoff[];
}

/** An alarm so long after the loss is still about it. */
const ALARM_AFTER_MS = 10 * MINUTE_MS;

const round = (value: number | null, decimals: number): number | null =>
  value === null ? null : Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

function takeCutoffs(before: readonly Cutoff[], block: DayBlock): readonly Cutoff[] {
  const told = new Map(before.map(({ unit, pct }) => [unit, pct]));
  const added: Cutoff[] = [];
  for (const { unit, t, key, value } of block.settings) {
    if (key !== 'low_soc_cutoff_pct') continue;
    const pct = value === null ? null : settingNumber(value);
    if (told.get(unit) === pct) continue;
    told.set(unit, pct);
    added.push({ unit, t, pct });
  }
  return added.length === 0 ? before : [...before, ...added];
}

function fold(state: OutputLostState, block: DayBlock, site: SiteHistory): OutputLostState {
  return {
    island: foldIsland(state.island, block, site),
    alarms: alarms.fold(state.alarms, block, site),
    cutoffs: takeCutoffs(state.cutoffs, block),
  };
}

function contextOf(loss: OutputLoss, state: OutputLostState, site: SiteHistory): LossContext {
  const byUnit = new Map(state.cutoffs.filter(({ t }) => t <= loss.start).map(({ unit, pct }) => [unit, pct]));
  const known = [...byUnit.values()].filter((pct) => pct !== null);
  return {
    cutoffPct: known.length === 0 ? null : Math.max(...known),
    reservePct: recordAt(site, loss.start).reserve_soc_pct,
    alarms: alarmsWithin(state.alarms, loss.start, loss.start + ALARM_AFTER_MS).map(({ alarm }) => alarm),
  };
}

function findingOf(loss: OutputLoss, context: LossContext, site: string): Finding {
  const reasons = lossReasons(loss, context);
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
      reason: reasons[0]!,
      reasons_in_question: reasons,
      phases: loss.phases,
      during_grid_loss: loss.duringGridLoss,
      soc_pct: round(loss.socPct, 1),
      low_soc_cutoff_pct: context.cutoffPct,
      reserve_soc_pct: context.reservePct,
      dc_voltage_v: round(loss.dcV, 1),
      load_before_w: round(loss.loadBeforeW, 0),
      rated_power_w: loss.ratedPowerW,
      load_over_rating_max: round(loss.peakShare, 2),
      heatsink_temperature_max_c: round(loss.temperatureMaxC, 1),
      modes: loss.modes,
      fault_codes: loss.faultCodes,
    },
  };
}

export const outputLost: Analyzer<OutputLostState> = {
  name: 'output_lost',
  version: 3,
  begin: () => ({ island: beginIsland(), alarms: { standing: [], done: [] }, cutoffs: [] }),
  fold,
  answer(state, site) {
    const { loss, losses } = state.island;
    const all = loss === null ? losses : [...losses, loss];
    return { findings: all.map((one) => findingOf(one, contextOf(one, state, site), site.site)), cannotTell: [] };
  },
};
