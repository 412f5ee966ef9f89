/** The figures that a finding rests on, as labelled texts. Pure. */
import type { SayableFinding } from '../../server/contract/finding.ts';
import { figureText, fullTimeText, withUnit } from '../../server/views/figures.ts';
import { findingFacts } from '../../server/views/say-finding.ts';
import type { Saying } from '../../server/views/saying.ts';
import { settingName } from '../../server/views/setting-name.ts';

/** What the figures of the analyses are called. What is not here is called by its key. */
const NAMES: Readonly<Record<string, string>> = {
  resistance_added_mohm: 'resistance added to its path',
  heat_at_peak_w: 'heat there at the peak load',
  peak_current_a: 'peak current',
  resistance_ratio: 'resistance of its path, times the proven one',
  slope_factor: 'slope, times the proven one',
  offset_change_w: 'offset against the proven one',
  baseline_slope: 'slope when proven',
  baseline_offset_w: 'offset when proven',
  load_mean_w: 'mean load of the set',
  ceiling_w: 'ceiling it seems to keep to',
  onset_form: 'how it began',
  bins_now: 'quarter hours it rests on',
  baseline_bins: 'quarter hours when proven',
  baseline_from: 'proven from',
  baseline_to: 'proven to',
  baseline_hours: 'hours when proven',
  hours_now: 'hours it rests on',
  variance_inflation: 'scatter, times that of independent readings',
  share_value: 'share now',
  share_baseline: 'share when proven',
  share_unit: 'share of',
  share_mode: 'share while on',
  settings: 'settings that differ',
  told_by: 'who is held to be wrong, by',
  swing_reported_over_counted: 'swing of charge reported over counted',
  swing_proven: 'the same when proven',
  current_share_of_capacity_share: 'part of the current over part of the capacity',
  current_parts_now: 'part of the current over part of the capacity, each pack',
  current_part_proven: 'the same when proven',
  scatter_points: 'scatter of charge when proven, points',
  unexplained_points: 'change of charge that no current explains, points',
  soc_pct: 'charge',
  outside_s: 'outside its band for',
  total_power_w: 'power of the set',
  rated_power_w: 'rating of the set',
  load_before_w: 'load before',
  last_reading: 'last reading',
  grid_loss_start: 'grid lost at',
  times_lost: 'times lost',
};
/** Said by the sentence already, or by the head of the page. */
const SAID_ELSEWHERE: ReadonlySet<string> = new Set(['unit', 'pack', 'phase', 'mode', 'settings']);
const TIME = /^\d{4}-\d\d-\d\dT[\d:.]+Z$/;

export interface EvidenceRow {
  readonly label: string;
  readonly text: string;
}

/** Parts of one that are shown as parts of a hundred, and amperes, which the sentences never say. */
function ownText(key: string, value: unknown): string | undefined {
  if (typeof value !== 'number') return undefined;
  if (key === 'share_value' || key === 'share_baseline') return withUnit(value * 100, 1, '%');
  if (key.endsWith('_a')) return withUnit(value, 1, 'A');
  return key.endsWith('_slope') ? figureText(value, 3) : undefined;
}

/** In the order in which the finding gives them; what it does not know is left out. */
export function evidenceRows(finding: SayableFinding, saying: Saying): readonly EvidenceRow[] {
  const { evidence } = findingFacts(finding, saying);
  return Object.entries(finding.evidence).flatMap(([key, value]) => {
    const text = ownText(key, value) ?? evidence[key];
    if (text === undefined || text === '' || SAID_ELSEWHERE.has(key)) return [];
    const shown = TIME.test(text) ? fullTimeText(Date.parse(text), saying.words.locale, saying.zone) : text;
    return [{ label: NAMES[key] ?? settingName(key), text: shown.replaceAll('_', ' ') }];
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

export function evidenceLine(finding: SayableFinding, saying: Saying): string {
  const rows = new Map(evidenceRows(finding, saying).map(({ label, text }) => [label, text]));
  return TELLING.flatMap((key) => {
    const label = NAMES[key] ?? '';
    const text = key in finding.evidence ? rows.get(label) : undefined;
    return text === undefined ? [] : [`${label} ${text}`];
  }).join('; ');
}
