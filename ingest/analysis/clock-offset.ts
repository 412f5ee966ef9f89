/**
 * clock_offset: the stamps of a unit or pack stand apart from the others'. Told from the steps that several sources see at
 * one instant; each brackets it between two of its own stamps. Only differences between clocks can be seen: where every
 * clock of a site is off alike, nothing shows. Method in DEVELOPERS.md, "Clocks".
 */
import { FARTHEST_S, farOffsetS } from '../alignment/clock-far.ts';
import {
  type ClockStep,
  clockSteps,
  nearestDifference,
  type StepChannel,
  type StepDifference,
} from '../alignment/clock-steps.ts';
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import { recordAt, unchangedSince } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding } from '../vocabulary/finding.ts';
import { DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { FALSE_ALARMS_A_SITE_YEAR, llrThreshold } from './_budget.ts';
import { type Cadence, NEW_CADENCE, takeHourOfStamps } from './_clock-cadence.ts';
import { type OpenOffset, offsetFinding, raiseOffset, returnTo } from './_clock-odd.ts';
import {
  type ClockPair,
  isBeyondHeld,
  limitS,
  NEW_PAIR,
  type PairTest,
  signOf,
  takeHourOfSteps,
} from './_clock-pairs.ts';
import { firstReadingFrom } from './_pack-group.ts';
import type { Analyzer } from './analyzer.ts';

/** So many steps of an hour are compared: the largest, they are the cleanest. */
const STEPS_AN_HOUR = 5;
/** An hour is judged once so much more is in: steps near its end are looked for in the other sources, too. */
const MARGIN_MS = 15 * MINUTE_MS;
/** Patterns are searched over so long. */
const PATTERN_MS = 30 * HOUR_MS;
/** Where more of the steps than this are found again close by, no pattern is searched elsewhere. */
const FOUND_ENOUGH = 0.65;

/** A source and what its steps are seen in: `u1 load`, `p1 battery`. */
export interface SeenIn {
  readonly id: string;
  readonly isPack: boolean;
  readonly channel: StepChannel;
  /** Sources of other groups see other steps: units of another phase other loads. */
  readonly group: string;
}

export interface ClockState {
  /** What the record was when it all began; another one begins anew. */
  readonly key: string;
  /** By the place in `seenIn`: all clean steps of late, and the largest of each hour of the last day. */
  readonly steps: readonly (readonly ClockStep[])[];
  readonly large: readonly (readonly ClockStep[])[];
  readonly cadences: Readonly<Record<string, Cadence>>;
  /** By `a|b channel`. */
  readonly pairs: Readonly<Record<string, ClockPair>>;
  /** The next hour to be judged; null before the first reading. */
  readonly hour: number | null;
  readonly open: readonly OpenOffset[];
  readonly ended: readonly Finding[];
}

function begin(key = '', ended: readonly Finding[] = []): ClockState {
  return { key, steps: [], large: [], cadences: {}, pairs: {}, hour: null, open: [], ended };
}

/** What each source of the record can see steps in. */
function seenInOf(record: SiteRecord): SeenIn[] {
  const units = record.units.flatMap(({ id, phase }): SeenIn[] => [
    { id, isPack: false, channel: 'load', group: phase },
    { id, isPack: false, channel: 'battery', group: 'bank' },
  ]);
  const packs = record.packs.map(({ id }): SeenIn => ({ id, isPack: true, channel: 'battery', group: 'bank' }));
  return [...units, ...packs];
}

function keyOf(history: SiteHistory, record: SiteRecord, t: number): string {
  const ids = [...record.units.map((u) => u.id), ...record.packs.map((p) => p.id)];
  return ids.map((id) => `${id}@${unchangedSince(history, id, t) ?? ''}`).join(' ');
}

function fold(state: ClockState, block: DayBlock, history: SiteHistory): ClockState {
  const t = block.day + DAY_MS - 1;
  const record = recordAt(history, t);
  const key = keyOf(history, record, t);
  let next = state;
  if (key !== state.key) {
    const changedAt = Math.max(record.validFrom ?? block.day, ...state.open.map((o) => o.detectedAt));
    const closed = state.open.map((open) => offsetFinding(open, history.site, changedAt));
    next = begin(key, [...state.ended, ...closed]);
  }
  const seenIn = seenInOf(record);
  const intervalS = record.sample_interval_s;
  const found = seenIn.map((seen) => stepsOf(seen, sourceOf(block, seen), record));
  const steps = found.map((own, k) => [...(next.steps[k] ?? []), ...own]);
  next = { ...next, steps, large: seenIn.map((_, k) => next.large[k] ?? []) };
  const times = [...block.units.values(), ...block.packs.values()].map((source) => source.tMs);
  const first = firstReadingFrom(times, block.day);
  if (first === null) return next;
  let hour = next.hour ?? Math.floor(first / HOUR_MS) * HOUR_MS;
  if (hour < block.day - HOUR_MS) hour = block.day - HOUR_MS;
  for (; hour < block.day + DAY_MS; hour += HOUR_MS) {
    const closedAt = firstReadingFrom(times, hour + HOUR_MS + MARGIN_MS);
    if (closedAt === null) break;
    next = takeHour(next, { hour, closedAt, seenIn, record, intervalS, block });
  }
  const oldest = hour - 2 * MARGIN_MS;
  return { ...next, hour, steps: next.steps.map((own) => own.filter((s) => s.to >= oldest)) };
}

function sourceOf(block: DayBlock, { id, isPack }: SeenIn): SourceDay | undefined {
  return isPack ? block.packs.get(id) : block.units.get(id);
}

function stepsOf(seen: SeenIn, day: SourceDay | undefined, record: SiteRecord): ClockStep[] {
  const quantity = seen.isPack ? 'pack_current_a' : seen.channel === 'load' ? 'output_power_w' : 'dc_current_a';
  const values = columnOf(day, quantity);
  if (day === undefined || values === null) return [];
  return clockSteps(day.tMs, values, wholeOf(seen, record), record.sample_interval_s);
}

/** What a size of 1 is: a unit's rating, or its part of the bank's capacity an hour. */
function wholeOf(seen: SeenIn, record: SiteRecord): number {
  const bankAh = record.packs.reduce((sum, p) => sum + p.capacity_ah, 0);
  if (seen.isPack) return record.packs.find((p) => p.id === seen.id)!.capacity_ah;
  const ratedW = record.units.find((u) => u.id === seen.id)!.rated_power_w;
  if (seen.channel === 'load') return ratedW;
  const siteW = record.units.reduce((sum, u) => sum + u.rated_power_w, 0);
  // Without packs on record the units are still compared among themselves: 51.2 V, an hour's capacity.
  return bankAh > 0 ? (bankAh * ratedW) / siteW : ratedW / 51.2;
}

interface HourOf {
  readonly hour: number;
  readonly closedAt: number;
  readonly seenIn: readonly SeenIn[];
  readonly record: SiteRecord;
  readonly intervalS: number;
  readonly block: DayBlock;
}

function takeHour(state: ClockState, of: HourOf): ClockState {
  const { hour, seenIn, intervalS } = of;
  const own = state.steps.map((steps) => largest(steps.filter((s) => s.to >= hour && s.to < hour + HOUR_MS)));
  const large = state.large.map((steps, k) => [...steps.filter((s) => s.to >= hour - PATTERN_MS), ...own[k]!]);
  let next: ClockState = { ...state, large, cadences: cadencesOf(state, of) };
  const list = pairsOf(seenIn);
  const threshold = llrThreshold(FALSE_ALARMS_A_SITE_YEAR.clock_offset, 365 * 24 * STEPS_AN_HOUR, 4 * list.length);
  const pairs: Record<string, ClockPair> = { ...next.pairs };
  next = { ...next, pairs };
  for (const [a, b] of list) {
    const name = pairName(seenIn, a, b);
    const steps = own[a]!;
    const before = pairs[name] ?? NEW_PAIR;
    if (steps.length === 0) {
      pairs[name] = before;
      continue;
    }
    const test: PairTest = { limitS: limitS(seenIn[a]!.isPack === seenIn[b]!.isPack), intervalS, threshold };
    const seen = steps.map((step) => nearestDifference(step, state.steps[b]!, reachS(intervalS)));
    const times = steps.map((step) => step.to);
    pairs[name] = withPattern(takeHourOfSteps(before, times, seen, test), large[a]!, large[b]!, intervalS);
    next = returnIn(next, seenIn[a]!.id, seenIn[b]!.id, seen, test, of);
  }
  return judge({ ...next, pairs: withoutEnded(pairs, state.open, next.open) }, threshold, of);
}

/** Steps are looked for this far from each other; beyond it only patterns tell. */
const reachS = (intervalS: number): number => Math.max(4 * intervalS, 120);

function largest(steps: readonly ClockStep[]): ClockStep[] {
  if (steps.length <= STEPS_AN_HOUR) return [...steps];
  return [...steps]
    .sort((a, b) => Math.abs(b.size) - Math.abs(a.size) || a.to - b.to)
    .slice(0, STEPS_AN_HOUR)
    .sort((a, b) => a.to - b.to);
}

/** Of a large bank each pack is held against two units and its neighbours: each against each tells no more. */
const UNITS_A_PACK = 2;

function pairsOf(seenIn: readonly SeenIn[]): [number, number][] {
  const pairs: [number, number][] = [];
  const places = (isPack: boolean): number[] =>
    seenIn.flatMap((seen, k) => (seen.isPack === isPack && seen.channel === 'battery' ? [k] : []));
  const firstUnits = new Set(places(false).slice(0, UNITS_A_PACK));
  const packs = places(true);
  const areNeighbours = (a: number, b: number): boolean => b - a === 1 || (a === packs[0] && b === packs.at(-1));
  for (const [a, one] of seenIn.entries()) {
    for (const [b, other] of seenIn.entries()) {
      if (b <= a || one.id === other.id || one.channel !== other.channel || one.group !== other.group) continue;
      if (one.isPack && !areNeighbours(a, b)) continue;
      if (!one.isPack && other.isPack && !firstUnits.has(a)) continue;
      pairs.push([a, b]);
    }
  }
  return pairs;
}

const pairName = (seenIn: readonly SeenIn[], a: number, b: number): string =>
  `${seenIn[a]!.id}|${seenIn[b]!.id} ${seenIn[a]!.channel}`;

/** Where the steps of one source are missed in the other, looks for them elsewhere. */
function withPattern(
  pair: ClockPair,
  own: readonly ClockStep[],
  others: readonly ClockStep[],
  intervalS: number,
): ClockPair {
  const { missedSince, found } = pair;
  if (missedSince === null || found > FOUND_ENOUGH)
    return pair.farS === null || found < FOUND_ENOUGH ? pair : { ...pair, farS: null };
  if (pair.farS !== null) return pair;
  const since = own.filter((step) => step.to >= missedSince);
  const reach = others.filter((step) => step.to >= missedSince - FARTHEST_S * SECOND_MS);
  const farS = farOffsetS(since, reach, intervalS);
  return farS === null ? pair : { ...pair, farS: Math.round(farS) + 0 };
}

function cadencesOf(state: ClockState, { hour, record, intervalS, block }: HourOf): Readonly<Record<string, Cadence>> {
  const cadences: Record<string, Cadence> = { ...state.cadences };
  const all = [
    ...record.units.map(({ id }) => block.units.get(id)),
    ...record.packs.map(({ id }) => block.packs.get(id)),
  ];
  for (const source of all) {
    if (source === undefined) continue;
    const stamps = source.tMs.subarray(firstRowAt(source.tMs, hour), firstRowAt(source.tMs, hour + HOUR_MS));
    cadences[source.id] = takeHourOfStamps(cadences[source.id] ?? NEW_CADENCE, hour, stamps, intervalS);
  }
  return cadences;
}

/** Raises what the tests show, once for each source. */
function judge(state: ClockState, threshold: number, { seenIn, closedAt, intervalS }: HourOf): ClockState {
  const named = new Set(state.open.flatMap((open) => open.ids));
  const free = pairsOf(seenIn).filter(([a, b]) => !named.has(seenIn[a]!.id) && !named.has(seenIn[b]!.id));
  const shown = free.find(([a, b]) => {
    const pair = state.pairs[pairName(seenIn, a, b)] ?? NEW_PAIR;
    return signOf(pair, threshold) !== 0 && (seenIn[a]!.channel === 'load' || isBeyondHeld(pair, intervalS));
  });
  if (shown === undefined) return state;
  const pairs = free.map(([a, b]) => ({
    a: seenIn[a]!.id,
    b: seenIn[b]!.id,
    isOneKind: seenIn[a]!.isPack === seenIn[b]!.isPack,
    pair: state.pairs[pairName(seenIn, a, b)] ?? NEW_PAIR,
  }));
  const name = pairName(seenIn, shown[0], shown[1]);
  const first = { a: seenIn[shown[0]]!.id, b: seenIn[shown[1]]!.id, pair: state.pairs[name] ?? NEW_PAIR };
  const open = raiseOffset(first, pairs, state.cadences, { closedAt, intervalS, threshold });
  return open === null ? state : { ...state, open: [...state.open, open] };
}

/** Watches for the return of what is open between two sources. */
function returnIn(
  state: ClockState,
  a: string,
  b: string,
  seen: readonly (StepDifference | null)[],
  test: PairTest,
  { closedAt }: HourOf,
): ClockState {
  let next = state;
  for (const open of state.open) {
    if (open.pair[0] !== a || open.pair[1] !== b) continue;
    const moved = returnTo(open, seen, test);
    if (moved.endedAt === null) {
      next = { ...next, open: next.open.map((o) => (o === open ? moved.open : o)) };
      continue;
    }
    const end = Math.min(closedAt, Math.max(moved.endedAt, open.detectedAt));
    next = {
      ...next,
      open: next.open.filter((o) => o !== open),
      ended: [...next.ended, offsetFinding(moved.open, '', end)],
    };
  }
  return next;
}

/** All pairs of a source that is right again begin anew: their sums still hold what is over. */
function withoutEnded(
  pairs: Readonly<Record<string, ClockPair>>,
  before: readonly OpenOffset[],
  now: readonly OpenOffset[],
): Readonly<Record<string, ClockPair>> {
  if (before.length === now.length) return pairs;
  const ended = before.filter(({ ids }) => !now.some((open) => open.ids === ids)).flatMap(({ ids }) => ids);
  return Object.fromEntries(Object.entries(pairs).filter(([name]) => !ended.some((id) => isOf(name, id))));
}

const isOf = (pair: string, id: string): boolean => pair.slice(0, pair.lastIndexOf(' ')).split('|').includes(id);

export const clockOffset: Analyzer<ClockState> = {
  name: 'clock_offset',
  version: 2,
  begin: () => begin(),
  fold,
  answer(state, site) {
    const ended = state.ended.map((finding) => ({ ...finding, site: site.site }));
    return { findings: [...ended, ...state.open.map((open) => offsetFinding(open, site.site, null))], cannotTell: [] };
  },
};
