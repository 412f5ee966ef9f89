/** All verdicts, in the order in which they are folded. */
import type { FindingKind } from '../vocabulary/finding.ts';
import { alarms } from './alarms.ts';
import type { Analyzer } from './analyzer.ts';
import { autonomy } from './autonomy.ts';
import { backupEventsAnalyzer } from './backup-events.ts';
import { batteryUnseen } from './battery-unseen.ts';
import { cellSpread } from './cell-spread.ts';
import { circulatingPower } from './circulating-power.ts';
import { clockOffset } from './clock-offset.ts';
import { ctReversed } from './ct-reversed.ts';
import { excursions } from './excursions.ts';
import { frequencyDisagreement } from './frequency-disagreement.ts';
import { hunting } from './hunting.ts';
import { outputLost } from './output-lost.ts';
import { packCount } from './pack-count.ts';
import { packNotCarrying } from './pack-not-carrying.ts';
import { packPath } from './pack-path.ts';
import { settingsMismatch } from './settings-mismatch.ts';
import { shareDrift } from './share-drift.ts';
import { silences } from './silences.ts';
import { singleUnitGridLoss } from './single-unit-grid-loss.ts';
import { socDivergence } from './soc-divergence.ts';
import { stuckReading } from './stuck-reading.ts';

export const ANALYZERS: readonly Analyzer<unknown>[] = [
  backupEventsAnalyzer,
  excursions,
  outputLost,
  silences,
  batteryUnseen,
  settingsMismatch,
  shareDrift,
  socDivergence,
  packNotCarrying,
  packPath,
  packCount,
  cellSpread,
  stuckReading,
  clockOffset,
  singleUnitGridLoss,
  ctReversed,
  circulatingPower,
  frequencyDisagreement,
  hunting,
  alarms,
  autonomy,
];

/** The kinds that these verdicts can raise. Of any other nothing is said, which is not the same as nothing found. */
export const JUDGED_KINDS: readonly FindingKind[] = [
  'share_drift',
  'soc_divergence',
  'frequency_excursion',
  'voltage_excursion',
  'output_lost',
  'battery_unseen',
  'settings_mismatch',
  'pack_not_carrying',
  'pack_capacity_loss',
  'cell_spread',
  'stuck_reading',
  'clock_offset',
  'unit_silent',
  'pack_silent',
  'site_silent',
  'single_unit_grid_loss',
  'ct_reversed',
  'circulating_power',
  'frequency_disagreement',
  'hunting',
];
