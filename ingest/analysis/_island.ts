/**
 * The watch over a site on its own, shared by the verdicts on grid losses, excursions and lost output.
 * An ordinary day on the grid is passed over in one look at each unit's columns; any other is walked
 * instant by instant.
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { firstRowAt, walkInstants } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import { endHunt, learnTurns } from './_hunt.ts';
import { copyEvent, gather, isDropped, noteReturn, openEvent, settleEnd } from './_island-event.ts';
import { lossAt } from './_island-output.ts';
import type { Dated, IslandState } from './_island-state.ts';
import { addEnergy, addExtremes } from './_island-tally.ts';
import { chargeFreshMs } from './_patience.ts';
import { restlessTimes, takeReading, type UnitColumns, type UnitNow, unheardUnit, unitColumns } from './_unit-now.ts';

function copyState(state: IslandState, record: SiteRecord): IslandState {
  const byId = new Map(state.units.map((unit) => [unit.id, unit]));
  return {
    ...state,
    units: record.units.map(({ id }) => ({ ...(byId.get(id) ?? unheardUnit(id)) })),
    packSoc: { ...state.packSoc },
    acPvW: { ...state.acPvW },
    open: state.open === null ? null : copyEvent(state.open),
    loss: state.loss === null ? null : { ...state.loss },
  };
}

/** One source of the day: what to do with a row of it. */
interface Feed {
  readonly source: SourceDay;
  readonly unit: UnitColumns | null;
  readonly now: UnitNow | null;
  readonly take: (row: number, t: number) => void;
}

function unitFeeds(state: IslandState, block: DayBlock, record: SiteRecord): Feed[] {
  return record.units.flatMap((unitRecord, index) => {
    const source = block.units.get(unitRecord.id);
    if (source === undefined) return [];
    const unit = unitColumns(source, unitRecord, record);
    const now = state.units[index]!;
    return [{ source, unit, now, take: (row: number, t: number) => takeReading(now, unit, row, t) }];
  });
}

function chargeFeeds(state: IslandState, block: DayBlock, record: SiteRecord): Feed[] {
  const feeds: Feed[] = [];
  const add = (
    source: SourceDay | undefined | null,
    column: Float64Array | null,
    keep: (dated: Dated) => void,
  ): void => {
    if (source === undefined || source === null || column === null) return;
    const take = (row: number, t: number): void => {
      const value = column[row]!;
      if (!Number.isNaN(value)) keep({ value, t });
    };
    feeds.push({ source, unit: null, now: null, take });
  };
  add(block.bank, columnOf(block.bank, 'bank_soc_pct'), (dated) => {
    state.bankSoc = dated;
  });
  for (const { id } of record.packs) {
    const source = block.packs.get(id);
    add(source, columnOf(source, 'soc_pct'), (dated) => {
      state.packSoc[id] = dated;
    });
  }
  for (const { id, role } of record.meters) {
    const source = block.meters.get(id);
    if (role !== 'ac_pv') continue;
    add(source, columnOf(source, 'meter_power_w'), (dated) => {
      state.acPvW[id] = dated;
    });
  }
  return feeds;
}

/** Charge at t: the bank's, else packs weighted by capacity, else the lead's; null where none is current. */
function chargeAt(state: IslandState, record: SiteRecord, t: number): number | null {
  const patience = chargeFreshMs(record);
  if (state.bankSoc !== null && t - state.bankSoc.t <= patience) return state.bankSoc.value;
  let ampereHours = 0;
  let capacity = 0;
  for (const pack of record.packs) {
    const soc = state.packSoc[pack.id];
    if (soc === undefined || t - soc.t > patience) continue;
    ampereHours += soc.value * pack.capacity_ah;
    capacity += pack.capacity_ah;
  }
  if (capacity > 0) return ampereHours / capacity;
  const lead = state.units[record.units.findIndex((unit) => unit.role === 'lead')];
  return lead === undefined || lead.socT === null || t - lead.socT > patience ? null : lead.socPct;
}

/** A new departure: a unit off the grid that is not known to be off by itself. */
function beginEvent(state: IslandState, record: SiteRecord, t: number): void {
  const leaves = state.units.some((unit) => unit.place === 'off' && !unit.alone && unit.placeT === t);
  if (leaves) state.open = openEvent(t, state.lastOnT, chargeAt(state, record, t));
}

/** What follows from all readings of one instant, once they are taken over. */
function settle(state: IslandState, record: SiteRecord, t: number, moved: readonly UnitNow[], returned: boolean): void {
  const charge = chargeAt(state, record, t);
  const wasLost = state.loss !== null;
  state.loss = lossAt(state.loss, { units: state.units, charge }, record, t);
  if (state.loss !== null && state.loss.end !== null) {
    state.losses = [...state.losses, state.loss];
    state.loss = null;
  }
  if (state.open === null) beginEvent(state, record, t);
  const event = state.open;
  if (event !== null) {
    gather(event, state.units, record, t);
    event.socStartPct ??= t - event.start <= chargeFreshMs(record) ? charge : null;
    event.tally.socPct = charge ?? event.tally.socPct;
    if (wasLost && state.lastT !== null) event.tally.lostMs += t - Math.max(state.lastT, event.start);
    addExtremes(state, event, record, t, moved);
    if (returned && event.confirmedAt !== null) noteReturn(event, t);
    settleEnd(event, state.units, record, t);
    if (event.end !== null) {
      const end = event.end;
      event.excursions = event.excursions.map((e) => (e.end === null ? { ...e, end: Math.max(end, e.lastOutT) } : e));
      state.huntBaseline = learnTurns(state.huntBaseline, event.hunt);
      event.hunt = endHunt(event.hunt, end);
      state.done = [...state.done, event];
      state.open = null;
    } else if (isDropped(event, state.units, record, t)) state.open = null;
  }
  if (moved.length === 0) return;
  state.lastT = t;
  if (state.units.some((unit) => unit.place === 'on' && unit.placeT === t)) state.lastOnT = t;
}

/**
 * Where each source is to be walked from, so that at `t` all that is still current is known: a while before
 * its newest reading before t, but no reading twice.
 */
function rowsFrom(feeds: readonly Feed[], walked: readonly number[], t: number, record: SiteRecord): number[] {
  const tailMs = chargeFreshMs(record);
  return feeds.map(({ source: { tMs } }, k) => {
    const newest = tMs[firstRowAt(tMs, t) - 1];
    return newest === undefined ? walked[k]! : Math.max(walked[k]!, firstRowAt(tMs, newest - tailMs));
  });
}

/** Takes all readings of one instant over into the state. */
function takeInstant(
  state: IslandState,
  feeds: readonly Feed[],
  record: SiteRecord,
  t: number,
  rows: Int32Array,
  moved: Uint8Array,
): void {
  const units: UnitNow[] = [];
  let returned = false;
  for (let k = 0; k < feeds.length; k++) {
    if (moved[k] === 0) continue;
    const { now, take } = feeds[k]!;
    if (now === null) {
      take(rows[k]!, t);
      continue;
    }
    const placeBefore = now.place;
    const power = now.powerW === null || now.powerT === null ? null : { value: now.powerW, t: now.powerT };
    take(rows[k]!, t);
    units.push(now);
    if (now.place === 'on' && placeBefore !== 'on') returned = true;
    if (state.open !== null) addEnergy(state.open, now, power, record);
  }
  if (units.length > 0) settle(state, record, t, units, returned);
}

/** Folds one day into the watch. Stretches in which every unit is on the grid with output are passed over. */
export function foldIsland(before: IslandState, block: DayBlock, site: SiteHistory): IslandState {
  const record = recordAt(site, block.day);
  const state = copyState(before, record);
  const feeds = [...unitFeeds(state, block, record), ...chargeFeeds(state, block, record)];
  const sources = feeds.map(({ source }) => source);
  const restless = Float64Array.from(feeds.flatMap(({ unit }) => (unit === null ? [] : restlessTimes(unit)))).sort();
  const tailMs = chargeFreshMs(record);
  let walked = feeds.map(() => 0);
  let seenT = Number.NEGATIVE_INFINITY;
  for (let isOver = false; !isOver; ) {
    const isQuiet = state.open === null && state.loss === null;
    const nextT = isQuiet ? (restless[firstRowAt(restless, seenT + 1)] ?? Number.POSITIVE_INFINITY) : seenT;
    isOver = true;
    walkInstants(sources, isQuiet ? rowsFrom(feeds, walked, nextT, record) : walked, (t, rows, moved) => {
      takeInstant(state, feeds, record, t, rows, moved);
      if (state.open !== null || state.loss !== null || t < nextT) return true;
      const following = restless[firstRowAt(restless, t + 1)] ?? Number.POSITIVE_INFINITY;
      if (following - t <= tailMs) return true;
      isOver = false;
      seenT = t;
      return false;
    });
    if (!isOver) walked = feeds.map(({ source: { tMs } }) => firstRowAt(tMs, seenT + 1));
  }
  return state;
}
