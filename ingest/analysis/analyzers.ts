/** All verdicts, in the order in which they are folded. */
import type { FindingKind } from '../vocabulary/finding.ts';
import type { Analyzer } from './analyzer.ts';
import { backupEventsAnalyzer } from './backup-events.ts';
import { batteryUnseen } from './battery-unseen.ts';
import { excursions } from './excursions.ts';
import { outputLost } from './output-lost.ts';
import { packNotCarrying } from './pack-not-carrying.ts';
import { settingsMismatch } from './settings-mismatch.ts';
import { shareDrift } from './share-drift.ts';
import { silences } from './silences.ts';
import { socDivergence } from './soc-divergence.ts';

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
  'unit_silent',
  'pack_silent',
  'site_silent',
];
