/** All verdicts, in the order in which they are folded. */
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
