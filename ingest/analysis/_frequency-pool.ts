/** Who reports another frequency than the rest of the AC bus, at one instant. */
import { medianSorted } from '../math/median.ts';
import type { SiteRecord } from '../site/record.ts';
import { SECOND_MS } from '../vocabulary/time.ts';
import type { GridPlace } from './_unit-now.ts';

/** What one source last said. Written to only within a fold, on that fold's own copy. */
export interface Heard {
  readonly id: string;
  readonly isUnit: boolean;
  place: GridPlace | null;
  hz: number | null;
  hzT: number | null;
  /** Its last two readings are alike. */
  isCalm: boolean;
  /** Its grid input: on the grid one more witness of the same bus. */
  gridHz: number | null;
  gridHzT: number | null;
  isGridCalm: boolean;
  /** The smallest step it ever showed; null before it moved. */
  resolutionHz: number | null;
}

export interface Difference {
  /** The odd unit, or null where it cannot be told which of the candidates. */
  readonly subject: string | null;
  readonly candidates: readonly string[];
  readonly valueHz: number;
  readonly othersHz: number;
  readonly resolutionHz: number;
  readonly place: GridPlace;
  /** Two units differ, and a third witness says which: the pair itself is no new condition. */
  readonly isSettled: boolean;
}

/** Witnesses this close agree, Hz; rounding comes on top. */
const AGREE_HZ = 0.05;
/** What is not said within this many intervals of the others is not compared. */
const TOGETHER_INTERVALS = 1.5;
/** A step that nobody has shown yet may still be one of this size, Hz. */
const UNKNOWN_RESOLUTION_HZ = 0.01;

interface Witness {
  readonly id: string;
  readonly hz: number;
}

const spread = (witnesses: readonly Witness[]): number => {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const { hz } of witnesses) {
    if (hz < low) low = hz;
    if (hz > high) high = hz;
  }
  return high - low;
};

const middle = (witnesses: readonly Witness[]): number =>
  medianSorted(witnesses.map(({ hz }) => hz).sort((a, b) => a - b));

/** The place in which most units that spoke lately are, if that is on the grid or on their own. */
function commonPlace(current: readonly Heard[]): GridPlace | null {
  const on = current.filter(({ isUnit, place }) => isUnit && place === 'on').length;
  const off = current.filter(({ isUnit, place }) => isUnit && place === 'off').length;
  if (on > 0 && off > 0) return null;
  return on > 0 ? 'on' : off > 0 ? 'off' : null;
}

/**
 * Differences at t between units on one bus. A unit is told odd where at least two other witnesses agree
 * among themselves; where only two disagree, both are candidates. Nothing where units are in different
 * places or not calm.
 */
export function compareFrequencies(heard: readonly Heard[], record: SiteRecord, t: number): Difference[] {
  const withinMs = TOGETHER_INTERVALS * record.sample_interval_s * SECOND_MS;
  const current = heard.filter(({ hzT }) => hzT !== null && t - hzT <= withinMs);
  const place = commonPlace(current);
  if (place === null) return [];
  const calm = current.filter(({ isCalm }) => isCalm);
  const units = calm.filter(({ isUnit, place: own }) => isUnit && own === place);
  const resolutionHz = Math.max(0, ...calm.map((one) => one.resolutionHz ?? UNKNOWN_RESOLUTION_HZ));
  const agreeHz = AGREE_HZ + resolutionHz;
  const bus: Witness[] = calm.map(({ id, hz }) => ({ id, hz: hz! }));
  if (place === 'on') {
    for (const { id, gridHz, gridHzT, isGridCalm } of current)
      if (gridHz !== null && isGridCalm && t - gridHzT! <= withinMs) bus.push({ id: `grid/${id}`, hz: gridHz });
  }
  const differences: Difference[] = [];
  let isAnyTold = false;
  for (const unit of units) {
    // Only what was just said is a new observation.
    const others = bus.filter(({ id }) => id !== unit.id);
    if (others.length < 2 || spread(others) > agreeHz) continue;
    isAnyTold = true;
    if (unit.hzT !== t) continue;
    differences.push({
      subject: unit.id,
      candidates: [],
      valueHz: unit.hz!,
      othersHz: middle(others),
      resolutionHz,
      place,
      isSettled: false,
    });
  }
  const [first, second] = units;
  if (first === undefined || second === undefined || units.length > 2 || first.hzT !== t) return differences;
  const candidates = [first.id, second.id];
  const pair = { subject: null, candidates, valueHz: first.hz!, othersHz: second.hz!, resolutionHz, place };
  return [...differences, { ...pair, isSettled: isAnyTold }];
}

/** Whether nobody who spoke of late is further from anybody than witnesses of one bus are: the common case, told fast. */
export function isAgreed(heard: readonly Heard[], withinHz: number): boolean {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const { hz } of heard) {
    if (hz === null) continue;
    if (hz < low) low = hz;
    if (hz > high) high = hz;
  }
  return !(high - low > withinHz);
}
