/** The first lines of the fleet, and what a row and its ribbon say. Only what is true: nobody has accounts yet. */
import type { Fleet, FleetRow, RibbonEvent, RibbonSilence } from '../contract/read-fleet.ts';
import { beamOfRow } from './beam.ts';
import { figureText, lengthText, withUnit } from './figures.ts';
import { MEASURE_LOOKS } from './measures.ts';
import { sayFinding } from './say-finding.ts';
import type { Saying } from './saying.ts';
import { isRequest, SITE_STATES, siteState } from './severity.ts';
import { sayTime } from './when.ts';
import type { FleetSection, SiteState } from './words.ts';

/** Packs further apart than this are said as a span. */
const APART_POINTS = 5;

/** 'Seven of 24 sites need somebody before the next grid loss.' */
export function sayFleet({ rows }: Pick<Fleet, 'rows'>, { words, now }: Saying): string {
  if (rows.length === 0) return words.fleet.none;
  const needing = rows.filter((row) => isRequest(siteState(row, now))).length;
  return needing === 0
    ? words.fleet.needsNobody
    : words.fleet.needs(words.sentence(words.count(needing)), needing, rows.length);
}

/** 'Two urgent, five soon … In 30 days the grid failed 47 times at 19 sites; power stayed on all but once.' Tests stay out. */
export function sayFleetTally({ rows }: Pick<Fleet, 'rows'>, { words, now }: Saying): string {
  if (rows.length === 0) return '';
  const states = rows.map((row) => siteState(row, now));
  const parts = SITE_STATES.flatMap((state) => {
    const count = states.filter((one) => one === state).length;
    return count === 0 ? [] : [words.fleet.stateCount(state, words.count(count))];
  });
  const losses = rows.map(({ events }) => events.filter(({ occasion }) => occasion !== 'test'));
  const all = losses.flat();
  const lost = all.filter(({ outputLostS }) => outputLostS > 0).length;
  const sites = losses.filter((events) => events.length > 0).length;
  return `${words.sentence(words.fleet.tally(parts))} ${words.fleet.ribbon(all.length, sites, lost)}`;
}

/** The worst open finding as a sentence; else why nothing can be said; empty where it is level. */
export function sayRow(row: FleetRow, saying: Saying): string {
  const { fleet, measure } = saying.words;
  const state = siteState(row, saying.now);
  if (state === 'level') return '';
  if (row.worst !== null && row.worst.severity !== 'info') return sayFinding(row.worst, saying);
  if (state === 'watch' && row.deviation !== null) {
    const beam = beamOfRow(row, saying);
    const { factor, decimals } = MEASURE_LOOKS[row.deviation.measure];
    const label = measure[row.deviation.measure](row.deviation.subject, row.deviation.mode);
    if (beam.says === 'deviation')
      return fleet.toWatch(label, beam.figure, figureText(row.deviation.limit * factor, decimals));
  }
  const because = row.because ?? saying.words.beam.old;
  return state === 'prove' ? fleet.toProve(because) : fleet.unclear(because);
}

/** Under which head of the narrow list a state stands. */
export function sectionOf(state: SiteState): FleetSection {
  return isRequest(state) ? 'needs' : state === 'level' ? 'level' : 'watch';
}

/** '2 × 8 kW', '8 + 5 kW' */
export function sayRatings(ratingsW: readonly number[]): string {
  const kilowatts = ratingsW.map((w) => figureText(w / 1000, w % 1000 === 0 ? 0 : 1));
  const isOne = new Set(kilowatts).size === 1;
  return withUnit0(isOne ? `${kilowatts.length} × ${kilowatts[0]}` : kilowatts.join(' + '));
}
const withUnit0 = (text: string): string => `${text}\u00a0kW`;

/** '2/3': held of all in 30 days, tests left out; empty where there was none. A loss counts as held where no output was lost. */
export function sayHeld({ events }: Pick<FleetRow, 'events'>): string {
  const losses = events.filter(({ occasion }) => occasion !== 'test');
  if (losses.length === 0) return '';
  return `${losses.filter(({ outputLostS }) => outputLostS === 0).length}/${losses.length}`;
}

/** '74 %', '71–93 %' where packs are more than 5 points apart, '–' where none is known. */
export function sayCharge({ chargePct }: Pick<FleetRow, 'chargePct'>): string {
  const known = chargePct.filter((pct): pct is number => pct !== null);
  if (known.length === 0) return withUnit(null, 0, '%');
  const [low, high] = [Math.min(...known), Math.max(...known)];
  return high - low > APART_POINTS ? `${figureText(low, 0)}–${withUnit(high, 0, '%')}` : withUnit(low, 0, '%');
}

/** How long ago it was heard: '2 s', '34 h 42 min'. */
export function sayHeard({ heardAt }: Pick<FleetRow, 'heardAt'>, { words, now }: Saying): string {
  return heardAt === null ? words.fleet.neverHeard : lengthText(Math.max(0, now - heardAt));
}

export function sayRibbonEvent(event: RibbonEvent, saying: Saying): string {
  return saying.words.fleet.ribbonEvent(
    sayTime(event.start, saying),
    event.lengthMs === null ? null : lengthText(event.lengthMs),
    event.outputLostS > 0 ? lengthText(event.outputLostS * 1000) : null,
    event.held,
  );
}

export function sayRibbonSilence(silence: RibbonSilence, saying: Saying): string {
  return saying.words.fleet.silence(
    sayTime(silence.start, saying),
    silence.lengthMs === null ? null : lengthText(silence.lengthMs),
  );
}
