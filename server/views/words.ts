/**
 * What there is to say on a page, in a mail or in a report, as one typed table. A language is one file that fills it:
 * english.ts is the first.
 * Sentence case, the subject first, a figure with its unit, since when, what follows. Known is said plainly, suspected
 * with "probably". No sign of exclamation, and none of the words that say nothing.
 */
import type { Measure } from '../../ingest/vocabulary/figure.ts';
import type { Cause, FindingKind, Severity } from '../../ingest/vocabulary/finding.ts';
import type { BoardWords } from './board-words.ts';

/** What a finding's sentence is made of; figures are texts with their units already, in the decimals of their kind. */
export interface FindingFacts {
  /** 'u2', 'p1 or p2', 'the site' */
  readonly who: string;
  readonly isOpen: boolean;
  /** 'since 28 March', 'on Sunday', 'from 3 to 9 March' */
  readonly when: string;
  /** How long, for what ended; null while it lasts. */
  readonly length: string | null;
  readonly value: string | null;
  readonly baseline: string | null;
  readonly limit: string | null;
  /** Whether value is below baseline or limit. */
  readonly isLess: boolean;
  /** Evidence as text, by key; absent where the finding has none. */
  readonly evidence: Readonly<Record<string, string | undefined>>;
  /** What probably follows of the first cause, or null where none weighs half. */
  readonly cause: string | null;
}

/** watch: beyond a limit, not for long enough to be a finding; unclear: proven, and nothing can be told now. */
export type SiteState = 'urgent' | 'soon' | 'plan' | 'watch' | 'prove' | 'unclear' | 'level';
/** Heads of the narrow fleet list. */
export type FleetSection = 'needs' | 'watch' | 'level';

export interface Words {
  readonly locale: string;
  /** The board's furniture and the heads of its pages. */
  readonly board: BoardWords;
  readonly when: {
    readonly today: string;
    readonly yesterday: string;
    readonly lastNight: string;
    todayAt(clock: string): string;
    onDay(day: string): string;
    since(time: string): string;
    between(from: string, to: string): string;
  };
  /** Zero to twelve are spoken, more are figures. */
  count(n: number): string;
  /** 'once', 'twice', 'three times' */
  times(n: number): string;
  /** First letter large. */
  sentence(text: string): string;
  list(items: readonly string[], last: 'and' | 'or'): string;
  readonly theSite: string;
  /** '3.0 points' */
  points(figure: string): string;
  /** '6.1 points below' */
  pointsFrom(points: string, isBelow: boolean): string;
  /** 'battery type: u1 lithium, u2 lead acid' */
  setting(key: string, values: readonly string[]): string;
  /** 'u2 carries 44.0 % instead of 49.1 %' behind settings that differ. */
  sharesBehind(unit: string, value: string, baseline: string): string;
  readonly state: Readonly<Record<SiteState, string>>;
  readonly severity: Readonly<Record<Severity, string>>;
  /** Short names of kinds, for marks on an axis. */
  readonly kind: Readonly<Record<FindingKind, string>>;
  readonly finding: Readonly<Record<FindingKind, (facts: FindingFacts) => string>>;
  /** What a cause is called beside its weight. */
  readonly cause: Readonly<Record<Cause, string>>;
  /** What follows of the first cause, after a semicolon. */
  readonly follows: Readonly<Record<Cause, (evidence: FindingFacts['evidence']) => string>>;
  readonly measure: Readonly<Record<Measure, (subject: string, mode: 'grid' | 'backup' | null) => string>>;
  readonly beam: {
    readonly silent: string;
    readonly unproven: string;
    readonly untold: string;
    readonly old: string;
    limit(subject: string, limit: string): string;
    of(figure: string, limit: string): string;
  };
  readonly fleet: {
    readonly none: string;
    needs(count: string, needing: number, all: number): string;
    readonly needsNobody: string;
    tally(parts: readonly string[]): string;
    stateCount(state: SiteState, count: string): string;
    section(section: FleetSection, count: string, isOne: boolean): string;
    toWatch(label: string, figure: string, limit: string): string;
    toProve(because: string): string;
    unclear(because: string): string;
    ribbon(losses: number, sites: number, notHeld: number): string;
    readonly neverHeard: string;
    ribbonEvent(time: string, length: string | null, lost: string | null, held: boolean): string;
    silence(time: string, length: string | null): string;
  };
  readonly site: {
    readonly level: string;
    toWatch(label: string, figure: string, limit: string): string;
    toProve(because: string): string;
    unclear(because: string): string;
    figures(counts: {
      readonly all: number;
      readonly beyond: number;
      readonly within: number;
      readonly untold: number;
      readonly unproven: number;
    }): string;
    /** What two lines of power over the total mean, with the watts between them at the load of now. */
    lines(told: {
      readonly unit: string;
      readonly load: string;
      readonly now: string;
      readonly proven: string;
      readonly off: string;
      readonly isLess: boolean;
      readonly isWithin: boolean;
      readonly moved: 'slope' | 'offset' | null;
      readonly slopes: readonly [proven: string, now: string];
      readonly offsets: readonly [proven: string, now: string];
    }): string;
    about(parts: readonly string[]): string;
    units(count: string, rating: string): string;
    packs(count: string, capacity: string): string;
    proven(day: string): string;
    readonly notYet: string;
  };
  readonly event: {
    heldFor(length: string): string;
    holdingSince(time: string): string;
    lostFor(length: string, when: string): string;
    leftBand(length: string, excursions: readonly string[]): string;
    extreme(
      what: 'frequency' | 'voltage',
      way: 'fell' | 'rose',
      value: string,
      at: string,
      isOverload: string | null,
    ): string;
    readonly overloaded: string;
    readonly margin: Readonly<
      Record<
        'timeLeft' | 'frequencyLow' | 'frequencyHigh' | 'setPeak' | 'charge' | 'voltageLow' | 'voltageHigh',
        string
      >
    >;
    peakOf(unit: string): string;
    toReserve(load: string, hasReserve: boolean): string;
    fromTo(from: string, to: string): string;
    readonly noTimeLeft: string;
    limit(limit: string, outside: string | null): string;
    rating(rating: string, past: string | null): string;
    ratingShare(rating: string, share: string): string;
    reserve(reserve: string | null, delivered: string): string;
    gridLost(uncertainty: string, charge: string | null): string;
    gridBack(delivered: string, units: readonly string[], charge: string | null): string;
    outputLost(length: string | null): string;
    pastRating(unit: string, peak: string, share: string, length: string): string;
    readonly occasion: Readonly<Record<'grid_loss' | 'test' | 'unknown', string>>;
    marked(occasion: string, by: string, day: string): string;
  };
  readonly chart: Readonly<
    Record<
      | 'proven'
      | 'now'
      | 'limit'
      | 'reserve'
      | 'rating'
      | 'noReadings'
      | 'tooLittle'
      | 'notJudged'
      | 'began'
      | 'threshold'
      | 'total'
      | 'least'
      | 'median'
      | 'greatest'
      | 'time'
      | 'day'
      | 'noGrid'
      | 'nominal',
      string
    >
  > & {
    noGridFor(length: string): string;
    gridLost(clock: string): string;
    unitsBack(clock: string): string;
    shareOf(unit: string): string;
    powerOf(unit: string): string;
    statisticOf(unit: string): string;
    readonly chargeOfPacks: string;
    readonly currentOfPacks: string;
    readonly loadByUnit: string;
    readonly chargeOfBank: string;
  };
}
