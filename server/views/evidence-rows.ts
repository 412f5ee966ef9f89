/** The figures that a finding rests on, as labelled texts. */
import type { Cause } from '../../ingest/vocabulary/finding.ts';
import type { SayableFinding } from '../contract/finding.ts';
import { EVIDENCE_NAMES } from './evidence-names.ts';
import { figureText, fullTimeText, withUnit } from './figures.ts';
import { findingFacts } from './say-finding.ts';
import type { Saying } from './saying.ts';
import { settingHeld, settingName, settingUnit } from './setting-name.ts';

/** Said by the sentence already, or by the head of the page. */
const SAID_ELSEWHERE: ReadonlySet<string> = new Set(['unit', 'pack', 'phase', 'mode', 'settings']);
const TIME = /^\d{4}-\d\d-\d\dT[\d:.]+Z$/;

export interface EvidenceRow {
  readonly key: string;
  readonly label: string;
  readonly text: string;
}

/** Parts of one that are shown as parts of a hundred, amperes, and settings with their unit. */
function ownText(key: string, value: unknown): string | undefined {
  if (Array.isArray(value) && settingUnit(key) !== null) {
    return value.map((held) => settingHeld(key, String(held))).join(', ');
  }
  if (typeof value !== 'number') return undefined;
  if (key === 'share_value' || key === 'share_baseline') return withUnit(value * 100, 1, '%');
  if (key.endsWith('_a')) return withUnit(value, 1, 'A');
  return key.endsWith('_slope') ? figureText(value, 3) : undefined;
}

/** In the order in which the finding gives them; what it does not know is left out. */
export function evidenceRows(finding: SayableFinding, saying: Saying): readonly EvidenceRow[] {
  const { evidence } = findingFacts(finding, saying);
  const { locale } = saying.words;
  const names = EVIDENCE_NAMES[locale] ?? {};
  return Object.entries(finding.evidence).flatMap(([key, value]) => {
    const text = ownText(key, value) ?? evidence[key];
    if (text === undefined || text === '' || SAID_ELSEWHERE.has(key)) return [];
    const shown = TIME.test(text) ? fullTimeText(Date.parse(text), locale, saying.zone) : text;
    return [{ key, label: names[key] ?? settingName(key), text: shown.replaceAll('_', ' ') }];
  });
}

/** What tells most of it, in a line under an alert's sentence. */
const TELLING: readonly string[] = [
  'resistance_added_mohm',
  'heat_at_peak_w',
  'peak_current_a',
  'offset_change_w',
  'ceiling_w',
  'load_mean_w',
  'share_unit',
  'share_value',
  'share_baseline',
  'outside_s',
  'total_power_w',
  'load_before_w',
  'current_parts_now',
  'current_share_of_capacity_share',
  'soc_pct',
  'last_reading',
];
/** Figures that belong to one explanation: beside another one they would mislead. */
const ONLY_OF: Readonly<Record<string, Cause>> = {
  resistance_added_mohm: 'feeder_resistance',
  heat_at_peak_w: 'feeder_resistance',
  peak_current_a: 'feeder_resistance',
  offset_change_w: 'setpoint_offset',
  ceiling_w: 'unit_limited',
};

export function evidenceLine(finding: SayableFinding, saying: Saying): string {
  const rows = new Map(evidenceRows(finding, saying).map((row) => [row.key, row]));
  const first = finding.causes[0]?.cause;
  return TELLING.flatMap((key) => {
    const row = rows.get(key);
    const owner = ONLY_OF[key];
    return row === undefined || (owner !== undefined && owner !== first) ? [] : [`${row.label} ${row.text}`];
  }).join('; ');
}
