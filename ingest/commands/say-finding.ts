/** A finding as one short sentence for a terminal. */
import type { Finding, FindingKind } from '../vocabulary/finding.ts';
import { dayWords, figure, fromToWords, plainWords, timeWords } from './figures.ts';

/** Whom it is about: 'u2', 'the site', 'p1 or p2'. */
export function sayWho({ subject, candidates }: Finding): string {
  if (subject === 'site') return 'the site';
  return subject ?? (candidates ?? ['somebody']).join(' or ');
}

const percent = (share: number | null): string => (share === null ? 'an unknown share' : `${figure(share * 100, 1)} %`);

function points(value: number): string {
  return `${figure(Math.abs(value), 1)} points ${value < 0 ? 'below' : 'above'} the bank's`;
}

function sayCharge(who: string, isOpen: boolean, { value, baseline }: Finding): string {
  if (value === null) return `${who} ${isOpen ? 'shows' : 'showed'} another charge than the other packs`;
  const before = baseline === null ? '' : ` instead of ${points(baseline)}`;
  return `the charge of ${who} ${isOpen ? 'has stood' : 'stood'} ${points(value)}${before}`;
}

function sayExtreme(what: string, symbol: string, decimals: number, { value, limit }: Finding): string {
  const to = value === null ? 'left the band' : `went to ${figure(value, decimals)} ${symbol}`;
  return `${what} in backup ${to}${limit === null ? '' : ` (limit ${figure(limit, decimals)} ${symbol})`}`;
}

function saySettings(who: string, isOpen: boolean, { evidence, measure }: Finding): string {
  const keys = Array.isArray(evidence.settings) ? evidence.settings.join(', ') : measure.replace(/^setting /, '');
  return `${who} ${isOpen ? 'has been set' : 'was set'} otherwise than it should be: ${keys}`;
}

function sayFigures({ measure, value, baseline, limit }: Finding): string {
  const parts = [
    ...(value === null ? [] : [`${measure} ${value}`]),
    ...(baseline === null ? [] : [`before ${baseline}`]),
    ...(limit === null ? [] : [`limit ${limit}`]),
  ];
  return parts.length === 0 ? '' : ` (${parts.join(', ')})`;
}

/** ' (50.20 Hz, the others 50.00 Hz)', ' (510 W, limit 240 W)'. */
function sayAgainst(symbol: string, decimals: number, { value, baseline, limit }: Finding): string {
  if (value === null) return '';
  const told = `${figure(value, decimals)} ${symbol}`;
  if (baseline !== null) return ` (${told}, the others ${figure(baseline, decimals)} ${symbol})`;
  return limit === null ? ` (${told})` : ` (${told}, limit ${figure(limit, decimals)} ${symbol})`;
}

type Say = (who: string, isOpen: boolean, finding: Finding) => string;

const CLAIMS: { readonly [Kind in FindingKind]: Say } = {
  share_drift: (who, isOpen, { value, baseline }) =>
    `${who} ${isOpen ? 'has carried' : 'carried'} ${percent(value)} instead of ${percent(baseline)}`,
  soc_divergence: sayCharge,
  frequency_excursion: (_, __, f) => sayExtreme('the frequency', 'Hz', 2, f),
  voltage_excursion: (_, __, f) => sayExtreme('the voltage', 'V', 1, f),
  frequency_disagreement: (who, isOpen, f) =>
    `${who} ${isOpen ? 'has reported' : 'reported'} another frequency than the others${sayAgainst('Hz', 2, f)}`,
  hunting: (_, isOpen, f) =>
    `the units ${isOpen ? 'have swung' : 'swung'} load to and fro${f.value === null ? '' : `, and the frequency by ${figure(f.value, 2)} Hz`}`,
  circulating_power: (_, isOpen, f) =>
    `power ${isOpen ? 'has circulated' : 'circulated'} between the units${sayAgainst('W', 0, f)}`,
  output_lost: (_, isOpen, { evidence }) =>
    `the backup output ${isOpen ? 'has been' : 'was'} lost${typeof evidence.reason === 'string' && evidence.reason !== 'unknown' ? ` (${evidence.reason})` : ''}`,
  single_unit_grid_loss: (who, isOpen) => `${who} alone ${isOpen ? 'has been' : 'was'} without the grid`,
  battery_unseen: (who, isOpen) => `${who} ${isOpen ? 'has not seen' : 'did not see'} the battery`,
  settings_mismatch: saySettings,
  ct_reversed: (who, isOpen) => `the current transformer of ${who} ${isOpen ? 'has read' : 'read'} the wrong way round`,
  pack_not_carrying: (who, isOpen) => `${who} ${isOpen ? 'has not carried' : 'did not carry'} its part of the current`,
  cell_spread: (who, isOpen, f) => `the cells of ${who} ${isOpen ? 'have been' : 'were'} apart${sayFigures(f)}`,
  pack_capacity_loss: (who, isOpen, f) => `${who} ${isOpen ? 'has held' : 'held'} less than before${sayFigures(f)}`,
  unit_silent: (who, isOpen) => `${who} ${isOpen ? 'has sent' : 'sent'} nothing`,
  pack_silent: (who, isOpen) => `${who} ${isOpen ? 'has sent' : 'sent'} nothing`,
  site_silent: (who, isOpen, { evidence }) =>
    `${who}${evidence.in_grid_loss === true ? ', probably with a router without backup,' : ''} ${isOpen ? 'has sent' : 'sent'} nothing`,
  stuck_reading: (who, isOpen, f) => `${who} ${isOpen ? 'has repeated' : 'repeated'} one reading${sayFigures(f)}`,
  clock_offset: (who, isOpen, f) => `the clock of ${who} ${isOpen ? 'has been' : 'was'} off${sayFigures(f)}`,
  slow_changeover: (who, _, f) => `${who} took too long to change over${sayFigures(f)}`,
};

/** What begins within a minute is told to the minute, what creeps to the day. */
const TO_THE_DAY: ReadonlySet<FindingKind> = new Set<FindingKind>([
  'share_drift',
  'soc_divergence',
  'pack_not_carrying',
  'pack_capacity_loss',
  'cell_spread',
  'ct_reversed',
]);

/**
 * 'u2 has carried 44.0 % instead of 49.1 % since 28 March 2026', or 'from … to …' for what ended.
 *
 * @param zone the site's time zone; times of day carry its offset
 */
export function sayFinding(finding: Finding, zone: string): string {
  const isOpen = finding.end === null;
  const isToTheDay = TO_THE_DAY.has(finding.kind);
  const claim = CLAIMS[finding.kind](sayWho(finding), isOpen, finding);
  const start = isToTheDay ? dayWords(finding.start, zone) : timeWords(finding.start, zone);
  if (finding.end === null) return `${claim} since ${start}`;
  if (!isToTheDay) return `${claim} ${fromToWords(finding.start, finding.end, zone)}`;
  const end = dayWords(finding.end, zone);
  return start === end ? `${claim} on ${start}` : `${claim} from ${start} to ${end}`;
}

/** 'likely feeder resistance (92 %), setpoint offset (5 %)', or null where no cause is named. */
export function sayCauses({ causes }: Finding): string | null {
  const told = causes.filter(({ weight }) => weight >= 0.01);
  if (told.length === 0) return null;
  return `likely ${told.map(({ cause, weight }) => `${plainWords(cause)} (${figure(weight * 100, 0)} %)`).join(', ')}`;
}
