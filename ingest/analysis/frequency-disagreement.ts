/**
 * Units on one AC bus that report different frequencies: not synchronised, or not measuring. Only calm
 * values are compared, each unit's last two readings alike, so that neither a load step between two samples
 * nor rounding can make a difference; what is left is summed up by a test of log-likelihood ratios.
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { walkInstants } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { epochMs, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold, readingsAYear } from './_budget.ts';
import { compareFrequencies, type Difference, type Heard, isAgreed } from './_frequency-pool.ts';
import { frequencyFeeds, takeFrequency } from './_frequency-reading.ts';
import { END_THRESHOLD } from './_llr-cusum.ts';
import type { Analyzer } from './analyzer.ts';

/** The smallest difference that matters, Hz, before rounding: five times what calibration explains. Our own choice. */
const SHIFT_HZ = 0.1;
/** Standard deviation of one calm difference, Hz: noise of both units and what the grid moves between samples. */
const SCATTER_HZ = 0.02;
/** Neighbouring differences resemble each other. */
const INFLATION = 4;
/** No single reading brings more than this part of the threshold … */
const STEP_MAX_PART = 0.13;
/** … and the difference has to last for longer than any step takes to reach every unit. */
const LAST_MS = 5 * MINUTE_MS;

interface Disagreement {
  readonly subject: string | null;
  readonly candidates: readonly string[];
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly valueHz: number;
  readonly othersHz: number;
  readonly limitHz: number;
  readonly mode: 'grid' | 'backup';
  readonly readings: number;
  readonly statistic: number;
  readonly threshold: number;
}

/** The sum of one subject and direction. */
interface Watch {
  readonly sum: number;
  readonly since: number;
  readonly readings: number;
  /** Sum for "agrees again" while a finding stands. */
  readonly level: number;
  readonly levelSince: number;
}

export interface FrequencyDisagreementState {
  readonly heard: Readonly<Record<string, Heard>>;
  readonly watches: Readonly<Record<string, Watch>>;
  readonly open: Readonly<Record<string, Disagreement>>;
  readonly done: readonly Disagreement[];
}

interface Work {
  readonly heard: Heard[];
  watches: Record<string, Watch>;
  open: Record<string, Disagreement>;
  done: Disagreement[];
  readonly record: SiteRecord;
  readonly threshold: number;
}

const UNSTARTED: Watch = { sum: 0, since: 0, readings: 0, level: 0, levelSince: 0 };

function shiftOf(difference: Difference): number {
  return SHIFT_HZ + 2 * difference.resolutionHz;
}

/** The next sum for a difference in one direction. */
function stepOf(differenceHz: number, shiftHz: number, threshold: number): number {
  const weight = shiftHz / (SCATTER_HZ ** 2 * INFLATION);
  const most = STEP_MAX_PART * threshold;
  return Math.max(-most, Math.min(most, weight * (differenceHz - shiftHz / 2)));
}

function raise(work: Work, key: string, difference: Difference, watch: Watch, t: number): void {
  const isKnown = Object.values(work.open).some(
    (other) =>
      other.subject === difference.subject ||
      [...other.candidates, other.subject].some(
        (id) => id !== null && (id === difference.subject || difference.candidates.includes(id)),
      ),
  );
  if (isKnown || watch.sum < work.threshold || t - watch.since < LAST_MS) return;
  work.open[key] = {
    subject: difference.subject,
    candidates: difference.candidates,
    start: watch.since,
    detectedAt: t,
    end: null,
    valueHz: difference.valueHz,
    othersHz: difference.othersHz,
    limitHz: shiftOf(difference) / 2,
    mode: difference.place === 'on' ? 'grid' : 'backup',
    readings: watch.readings,
    statistic: watch.sum,
    threshold: work.threshold,
  };
}

function takeDifference(work: Work, difference: Difference, sign: 1 | -1, t: number): void {
  const key = `${difference.subject ?? difference.candidates.join('|')} ${sign}`;
  const before = work.watches[key];
  const apartHz = sign * (difference.valueHz - difference.othersHz);
  const shiftHz = shiftOf(difference);
  const isOpen = work.open[key] !== undefined;
  if (!isOpen && (difference.isSettled || (before === undefined && apartHz <= shiftHz / 2))) return;
  const { sum, since, readings, level, levelSince } = before ?? UNSTARTED;
  const step = stepOf(apartHz, shiftHz, work.threshold);
  if (isOpen) {
    const next = Math.max(0, level + Math.min(END_THRESHOLD * STEP_MAX_PART, -step));
    work.watches[key] = { sum, since, readings, level: next, levelSince: level > 0 ? levelSince : t };
    if (next < END_THRESHOLD) return;
    work.done.push({ ...work.open[key]!, end: Math.max(work.watches[key].levelSince, work.open[key]!.detectedAt) });
    delete work.open[key];
    delete work.watches[key];
    return;
  }
  const next = Math.max(0, sum + step);
  if (next === 0) {
    delete work.watches[key];
    return;
  }
  const watch = { sum: next, since: sum > 0 ? since : t, readings: readings + 1, level: 0, levelSince: 0 };
  work.watches[key] = watch;
  raise(work, key, difference, watch, t);
}

function fold(state: FrequencyDisagreementState, block: DayBlock, site: SiteHistory): FrequencyDisagreementState {
  const record = recordAt(site, block.day);
  const feeds = frequencyFeeds(block, record);
  const trials = readingsAYear(record.sample_interval_s) * record.units.length;
  const work: Work = {
    heard: feeds.map(({ id, isUnit }) => ({ ...(state.heard[id] ?? unheard(id)), isUnit })),
    watches: { ...state.watches },
    open: { ...state.open },
    done: [...state.done],
    record,
    threshold: llrThreshold(FALSE_ALARMS_A_SITE_YEAR.frequency_disagreement, trials, 2),
  };
  walkInstants(
    feeds.map(({ source }) => source),
    feeds.map(() => 0),
    (t, rows, moved) => {
      let hasMoved = false;
      for (let k = 0; k < feeds.length; k++) {
        if (moved[k] === 1 && takeFrequency(work.heard[k]!, feeds[k]!, rows[k]!, t)) hasMoved ||= feeds[k]!.isUnit;
      }
      const isQuiet = isUnwatched(work) && isAgreed(work.heard, SHIFT_HZ / 2);
      if (!hasMoved || isQuiet) return true;
      for (const difference of compareFrequencies(work.heard, record, t)) {
        takeDifference(work, difference, 1, t);
        takeDifference(work, difference, -1, t);
      }
      return true;
    },
  );
  work.open = endRetired(work);
  const heard = Object.fromEntries(work.heard.map((one) => [one.id, one]));
  const { watches, open, done } = work;
  return { heard: { ...state.heard, ...heard }, watches, open, done };
}

function isUnwatched({ watches, open }: Work): boolean {
  for (const _ in watches) return false;
  for (const _ in open) return false;
  return true;
}

/** What stands of a unit that the record no longer names is over. */
function endRetired(work: Work): Record<string, Disagreement> {
  const named = new Set(work.record.units.map(({ id }) => id));
  const isNamed = ({ subject, candidates }: Disagreement): boolean =>
    subject === null ? candidates.every((id) => named.has(id)) : named.has(subject);
  for (const one of Object.values(work.open))
    if (!isNamed(one)) work.done.push({ ...one, end: Math.max(one.detectedAt, work.record.validFrom ?? 0) });
  return Object.fromEntries(Object.entries(work.open).filter(([, one]) => isNamed(one)));
}

function unheard(id: string): Heard {
  return {
    id,
    isUnit: true,
    place: null,
    hz: null,
    hzT: null,
    isCalm: false,
    gridHz: null,
    gridHzT: null,
    isGridCalm: false,
    resolutionHz: null,
  };
}

const round = (value: number, decimals: number): number => Math.round(value * 10 ** decimals) / 10 ** decimals + 0;

function findingOf(one: Disagreement, site: string): Finding {
  return {
    site,
    kind: 'frequency_disagreement',
    subject: one.subject,
    ...(one.subject === null ? { candidates: one.candidates } : {}),
    start: epochMs(one.start),
    detectedAt: epochMs(one.detectedAt),
    end: one.end === null ? null : epochMs(one.end),
    severity: 'soon',
    measure: 'output frequency against the other units',
    value: round(one.valueHz, 2),
    baseline: round(one.othersHz, 2),
    limit: round(one.limitHz, 2),
    causes: [],
    evidence: {
      mode: one.mode,
      difference_hz: round(one.valueHz - one.othersHz, 3),
      limit_hz: round(one.limitHz, 3),
      readings: one.readings,
      held_s: Math.round((one.detectedAt - one.start) / SECOND_MS),
      statistic: round(one.statistic, 2),
      threshold: round(one.threshold, 2),
      false_alarms_a_year: FALSE_ALARMS_A_SITE_YEAR.frequency_disagreement,
    },
  };
}

export const frequencyDisagreement: Analyzer<FrequencyDisagreementState> = {
  name: 'frequency_disagreement',
  version: 1,
  begin: () => ({ heard: {}, watches: {}, open: {}, done: [] }),
  fold,
  answer(state, site) {
    const all = [...state.done, ...Object.values(state.open)].sort(
      (a, b) => a.start - b.start || (String(a.subject) < String(b.subject) ? -1 : 1),
    );
    return { findings: all.map((one) => findingOf(one, site.site)), cannotTell: [] };
  },
};
