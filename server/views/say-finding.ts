/** A finding as one sentence: subject first, figure with unit, since when, what follows. */
import type { EvidenceValue, FindingKind } from '../../ingest/vocabulary/finding.ts';
import { SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { SayableFinding } from '../contract/finding.ts';
import { figureText, lengthText, powerText, withUnit } from './figures.ts';
import type { Saying } from './saying.ts';
import { settingUnit } from './setting-name.ts';
import { sayDay, sayOccurrence, sayTime } from './when.ts';
import type { FindingFacts, Words } from './words.ts';

/** From here a cause is said as probable; below, nobody is sent anywhere for it. */
const PROBABLE = 0.5;

/** What creeps is told to the day, what begins within a minute to the minute. */
const TO_THE_DAY: ReadonlySet<FindingKind> = new Set<FindingKind>([
  'share_drift',
  'soc_divergence',
  'pack_not_carrying',
  'pack_capacity_loss',
  'cell_spread',
  'ct_reversed',
]);
/** What is over in minutes: it happened, it did not last. */
const OCCURRENCES: ReadonlySet<FindingKind> = new Set<FindingKind>([
  'output_lost',
  'frequency_excursion',
  'voltage_excursion',
  'slow_changeover',
]);

type Figure = (value: number, words: Words) => string;
const percentOfOne: Figure = (value) => withUnit(value * 100, 1, '%');
const points: Figure = (value, words) => words.pointsFrom(figureText(Math.abs(value), 1), value < 0);
const hertz: Figure = (value) => withUnit(value, 2, 'Hz');
const volts: Figure = (value) => withUnit(value, 1, 'V');

/** How the figures of a kind are shown; kinds that are not here show two decimals without a unit. */
const FIGURES: { readonly [Kind in FindingKind]?: Figure } = {
  share_drift: percentOfOne,
  soc_divergence: points,
  frequency_excursion: hertz,
  voltage_excursion: volts,
  frequency_disagreement: hertz,
  circulating_power: (value) => powerText(value),
  hunting: hertz,
  output_lost: volts,
  pack_not_carrying: percentOfOne,
  cell_spread: (value) => withUnit(value * 1000, 0, 'mV'),
  pack_capacity_loss: (value) => withUnit(value, 0, 'Ah'),
  clock_offset: (value) => lengthText(Math.abs(value) * SECOND_MS),
  slow_changeover: (value) => withUnit(value, 1, 'ms'),
};

/** A limit is a distance: of a share in points, of a charge in points to either side. */
const LIMITS: { readonly [Kind in FindingKind]?: Figure } = {
  share_drift: (value, words) => words.points(figureText(value * 100, 1)),
  soc_divergence: (value, words) => words.points(figureText(value, 1)),
};

/** A setting in its own unit, by the measure that names it: 'setting output_voltage_setpoint_v'. */
function settingFigure(measure: string): Figure {
  const unit = settingUnit(measure) ?? '';
  return (value) => withUnit(value, Number.isInteger(value) ? 0 : 1, unit);
}

/** Whom it is about: 'u2', 'the site', 'p1 or p2'. */
export function sayWho({ subject, candidates }: SayableFinding, words: Words): string {
  if (subject === 'site') return words.theSite;
  return subject ?? words.list(candidates ?? [], 'or');
}

function sayWhen(finding: SayableFinding, saying: Saying): string {
  const { words } = saying;
  const { kind, start, end } = finding;
  if (OCCURRENCES.has(kind) && end !== null) return sayOccurrence(start, saying);
  const say = TO_THE_DAY.has(kind) ? sayDay : sayTime;
  if (end === null) return words.when.since(say(start, saying));
  const [from, to] = [say(start, saying), say(end, saying)];
  return from === to ? words.when.onDay(from) : words.when.between(from, to);
}

function evidenceText(key: string, value: EvidenceValue): string | undefined {
  if (value === null) return undefined;
  if (typeof value === 'number') {
    if (key.endsWith('_mohm')) return withUnit(value, 0, 'mΩ');
    if (key.endsWith('_w')) return powerText(value);
    if (key.endsWith('_s')) return lengthText(value * SECOND_MS);
    if (key.endsWith('_pct')) return withUnit(value, 0, '%');
    return String(value);
  }
  return Array.isArray(value) ? value.join(', ') : String(value);
}

/** Settings that differ, each with its values; and the share that moved with them. */
function settingsEvidence({ evidence }: SayableFinding, words: Words): Record<string, string> {
  const keys = Array.isArray(evidence.settings) ? evidence.settings.map(String) : [];
  const told = keys.map((key) => {
    const values = evidence[key];
    return words.setting(key, Array.isArray(values) ? values.map(String) : []);
  });
  const { share_value: value, share_baseline: baseline, share_unit: unit } = evidence;
  return {
    ...(told.length === 0 ? {} : { settings: words.list(told, 'and') }),
    ...(typeof value === 'number' && typeof baseline === 'number' && typeof unit === 'string'
      ? { shares: words.sharesBehind(unit, percentOfOne(value, words), percentOfOne(baseline, words)) }
      : {}),
  };
}

/** The texts that a finding's sentence is made of. */
export function findingFacts(finding: SayableFinding, saying: Saying): FindingFacts {
  const { words } = saying;
  const { kind, value, baseline, limit, start, end } = finding;
  const figure =
    FIGURES[kind] ?? (kind === 'settings_mismatch' ? settingFigure(finding.measure) : (v: number) => figureText(v, 2));
  const text = (v: number | null): string | null => (v === null ? null : figure(v, words));
  const evidence: Record<string, string | undefined> = {
    ...Object.fromEntries(Object.entries(finding.evidence).map(([key, v]) => [key, evidenceText(key, v)])),
    ...settingsEvidence(finding, words),
  };
  const first = finding.causes[0];
  const against = baseline ?? limit;
  return {
    who: sayWho(finding, words),
    isOpen: end === null,
    when: sayWhen(finding, saying),
    length: end === null ? null : lengthText(end - start),
    value: text(value),
    baseline: text(baseline),
    limit: limit === null ? null : (LIMITS[kind] ?? figure)(limit, words),
    isLess: value !== null && against !== null && value < against,
    evidence,
    cause: first === undefined || first.weight < PROBABLE ? null : words.follows[first.cause](evidence),
  };
}

/** 'u2 has carried 44.0 % instead of 49.1 % since 28 March; its path probably has 42 mΩ more.' Ids keep their small letters. */
export function sayFinding(finding: SayableFinding, saying: Saying): string {
  const { words } = saying;
  const facts = findingFacts(finding, saying);
  const text = words.finding[finding.kind](facts);
  const beginsWithId = finding.subject !== 'site' && text.startsWith(facts.who);
  return `${beginsWithId ? text : words.sentence(text)}.`;
}

/** Causes with their weights, most likely first: 'resistance in the feeder 0.92'. Those under one in a hundred are left out. */
export function sayCauses({ causes }: SayableFinding, { words }: Saying): string[] {
  return causes
    .filter(({ weight }) => weight >= 0.01)
    .map(({ cause, weight }) => `${words.cause[cause]} ${figureText(weight, 2)}`);
}

/** 'u2’s share drifts': a short name for a mark on an axis. */
export function nameFinding(finding: SayableFinding, { words }: Saying): string {
  return finding.subject === 'site'
    ? words.kind[finding.kind]
    : `${sayWho(finding, words)}: ${words.kind[finding.kind]}`;
}

/** The evidence keys that sentences read, by kind: what the fleet sends along. `*` stands for the keys named in `settings`. */
export const SAID_EVIDENCE: { readonly [Kind in FindingKind]?: readonly string[] } = {
  share_drift: ['resistance_added_mohm', 'heat_at_peak_w', 'ceiling_w'],
  frequency_excursion: ['outside_s'],
  voltage_excursion: ['outside_s'],
  output_lost: ['soc_pct', 'reason'],
  site_silent: ['probably'],
  settings_mismatch: ['settings', '*', 'share_value', 'share_baseline', 'share_unit'],
};
