import { FixedOffsetZone, IANAZone, type Zone } from 'luxon';
import { HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';

/**
 * Wall times are counted in ms as if they were UTC: 02:30 of some day is the same number in every zone.
 * An instant is epoch ms.
 */

/** The instants a wall time may be: none in the hour that spring leaves out, two in the hour that autumn repeats. */
type Instants = readonly [] | readonly [number] | readonly [number, number];

/** Zones change by quarters of an hour and on quarters, since 1972 at the latest. */
const QUARTER_MS = 15 * MINUTE_MS;
/** Offsets run from -12 to +14 hours. */
const FARTHEST_MS = 15 * HOUR_MS;

/** The zone of that name, or null: an IANA name, or `UTC+1` for a clock that is never changed. */
export function zoneNamed(name: string): Zone | null {
  if (IANAZone.isValidZone(name)) return IANAZone.create(name);
  return FixedOffsetZone.parseSpecifier(name);
}

/** Answers what instants a wall time of one zone may be; asks the zone once for each quarter of an hour. */
export class WallClock {
  readonly #zone: Zone;
  #offsets = new Map<number, readonly number[]>();

  constructor(zone: Zone) {
    this.#zone = zone;
  }

  /** @returns the instants, the earlier (summer time) first */
  instants(wallMs: number): Instants {
    const quarter = Math.floor(wallMs / QUARTER_MS);
    let offsets = this.#offsets.get(quarter);
    if (offsets === undefined) {
      // A year has 35,040 quarters; a hostile file may name any.
      if (this.#offsets.size > 100_000) this.#offsets = new Map();
      offsets = this.#offsetsAt(quarter * QUARTER_MS);
      this.#offsets.set(quarter, offsets);
    }
    const [first, second] = offsets;
    if (first === undefined) return [];
    return second === undefined ? [wallMs - first] : [wallMs - first, wallMs - second];
  }

  #offsetsAt(wallMs: number): readonly number[] {
    const before = this.#offsetMs(wallMs - FARTHEST_MS);
    const after = this.#offsetMs(wallMs + FARTHEST_MS);
    const candidates = before === after ? [before] : [Math.max(before, after), Math.min(before, after)];
    return candidates.filter((offset) => this.#offsetMs(wallMs - offset) === offset);
  }

  #offsetMs(instant: number): number {
    return Math.round(this.#zone.offset(instant) * MINUTE_MS);
  }
}

/** What is known of one source's clock so far, carried from piece to piece of a file. */
export interface ClockState {
  /** The last instant and the wall time it was made of, NaN before the first. */
  last: number;
  lastWall: number;
  /** Whether the last wall time was one of the repeated hour. */
  wasRepeated: boolean;
  /** Steps forward less steps back: below zero where the file begins with its newest row. */
  balance: number;
}

export function newClockState(): ClockState {
  return { last: Number.NaN, lastWall: Number.NaN, wasRepeated: false, balance: 0 };
}

/** Counts which way a file runs. A step back inside of the repeated hour tells nothing: it may be its second pass. */
function countSteps(walls: readonly number[], clock: WallClock, state: ClockState): void {
  for (const wall of walls) {
    const step = wall - state.lastWall;
    if (step > 0) state.balance += 1;
    const isInside = step < 0 && clock.instants(wall).length === 2 && clock.instants(state.lastWall).length === 2;
    if (step < 0 && !isInside) state.balance -= 1;
    state.lastWall = wall;
  }
}

/** How far the instant lies behind the last one in the direction of the file: negative is a step back. */
function stepOf(instant: number, { last, balance }: ClockState): number {
  return (instant - last) * (balance < 0 ? -1 : 1);
}

/**
 * Where a run of repeated wall times begins, whether it is the pass that the file would come to second.
 *
 * A run that steps back has both passes. One that does not is one pass, or a piece of it: it is the one
 * that leaves the smaller gap to its neighbours, and the nearer to what went before where both are equal.
 */
function beginsInLaterPass(walls: readonly number[], from: number, clock: WallClock, state: ClockState): boolean {
  const sign = state.balance < 0 ? -1 : 1;
  let at = from;
  for (; at < walls.length && clock.instants(walls[at]!).length === 2; at += 1) {
    if (at > from && (walls[at]! - walls[at - 1]!) * sign < 0) return false;
  }
  const following = at < walls.length ? clock.instants(walls[at]!)[0] : undefined;
  if (following === undefined) return false;
  const [, laterAtEnd] = passes(clock.instants(walls[at - 1]!), state);
  const [soonerAtStart] = passes(clock.instants(walls[from]!), state);
  const gapAfter = Math.abs(following - laterAtEnd);
  const gapBefore = Number.isNaN(state.last) ? Number.POSITIVE_INFINITY : Math.abs(soonerAtStart - state.last);
  return gapAfter < gapBefore;
}

/** Both instants of a repeated wall time, in the order in which the file comes to them. */
function passes(instants: Instants, { balance }: ClockState): readonly [number, number] {
  const first = instants[0] ?? Number.NaN;
  const second = instants[1] ?? first;
  return balance < 0 ? [second, first] : [first, second];
}

/**
 * The instants of the wall times of one source, in the order of its file.
 *
 * The hour that autumn repeats is resolved by order: times run one way through a file, so the first pass
 * through the hour is summer time, and where the wall clock steps back within it, standard time begins
 * (the other way round in a file that begins with its newest row). A file that only has one pass gets
 * the one that is continuous with what follows or goes before; where nothing tells, the first. Only what
 * stands in the same piece of the file can be looked at ahead.
 *
 * @param walls  wall times in file order
 * @param state  of this source; changed
 * @returns epoch ms for each, NaN for a wall time that spring leaves out
 */
export function resolveWalls(walls: readonly number[], clock: WallClock, state: ClockState): number[] {
  countSteps(walls, clock, state);
  return walls.map((wall, k) => {
    const instants = clock.instants(wall);
    if (instants.length === 0) return Number.NaN;
    let instant: number;
    if (instants.length === 1) {
      instant = instants[0];
    } else {
      const [sooner, later] = passes(instants, state);
      const isLater = state.wasRepeated ? stepOf(sooner, state) < 0 : beginsInLaterPass(walls, k, clock, state);
      instant = isLater ? later : sooner;
    }
    state.last = instant;
    state.wasRepeated = instants.length === 2;
    return instant;
  });
}
