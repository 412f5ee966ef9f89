/**
 * How long the site carries itself: what it usually uses by hour of its week, what its battery gives for a point of
 * charge, and how right that would have been at its own outages. Method in DEVELOPERS.md, "Autonomy".
 */
import { columnOf, type DayBlock, type SourceDay } from '../alignment/day-block.ts';
import { firstRowAt } from '../alignment/site-ticks.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import { type Autonomy, type BackTest, energyOver, HOURS_A_WEEK, hourOfWeek } from '../vocabulary/autonomy.ts';
import { MODES } from '../vocabulary/quantities.ts';
import { DAY_MS, epochMs, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { aged, counted, type Usual, usualBin } from './_usual.ts';
import type { Analyzer, Answer } from './analyzer.ts';

const SLOT_MS = 5 * MINUTE_MS;
const LOAD_SLOT_MS = 15 * MINUTE_MS;
/** Loads are counted in bins of a tenth more each, from so many watts on. */
const LOAD_FROM_W = 20;
const LOAD_RATIO = Math.log(1.1);
const CHARGE_STEP_PCT = 2;
/** Our own choice where the record names no reserve. */
const RESERVE_PCT = 20;
/** Output over what the battery gives, where the site's own outages have not shown it. Common practice, no source. */
const CONVERSION = 0.92;
/** Outages that moved the charge less say little of what a point of it gives. */
const POINTS_MIN = 3;
const POINTS_TO_LEARN = 10;
const TEST_MIN_H = 0.25;
const TESTS_KEPT = 20;
/** Charges older than this are not what is there now. */
const FRESH_MS = 2 * HOUR_MS;

interface Outage {
  readonly start: number;
  readonly end: number;
  readonly outputWh: number;
  readonly socFrom: number;
  readonly socTo: number;
}

export interface AutonomyState {
  readonly loads: Usual;
  readonly charges: Usual;
  readonly utcOffsetMs: number;
  readonly soc: { readonly t: number; readonly pct: number } | null;
  readonly sohPct: number | null;
  readonly outage: Outage | null;
  /** Of past outages together. */
  readonly learnt: { readonly outputWh: number; readonly points: number };
  readonly tests: readonly BackTest[];
}

function begin(): AutonomyState {
  return {
    loads: {},
    charges: {},
    utcOffsetMs: 0,
    soc: null,
    sohPct: null,
    outage: null,
    learnt: { outputWh: 0, points: 0 },
    tests: [],
  };
}

const loadBin = (watts: number): number => Math.floor(Math.log(1 + Math.max(0, watts) / LOAD_FROM_W) / LOAD_RATIO);
const loadOfBin = (bin: number): number => LOAD_FROM_W * (Math.exp(bin * LOAD_RATIO) - 1);

/** One slot of the day: what all units gave out together, whether all were on their own, the charge at its end. */
interface Slot {
  readonly t: number;
  readonly watts: number | null;
  readonly isIsland: boolean;
  readonly socPct: number | null;
}

function fold(state: AutonomyState, block: DayBlock, history: SiteHistory): AutonomyState {
  const record = recordAt(history, block.day + DAY_MS - 1);
  const utcOffsetMs = block.utcOffsetMs ?? 0;
  let next: AutonomyState = { ...state, loads: aged(state.loads), charges: aged(state.charges), utcOffsetMs };
  let gathered: number[] = [];
  for (const slot of slotsOf(block, record)) {
    if (slot.watts !== null) gathered.push(slot.watts);
    if ((slot.t + SLOT_MS) % LOAD_SLOT_MS === 0) {
      if (gathered.length === LOAD_SLOT_MS / SLOT_MS) {
        const mean = gathered.reduce((a, b) => a + b, 0) / gathered.length;
        const hour = Math.floor(hourOfWeek(slot.t, utcOffsetMs));
        next = { ...next, loads: counted(next.loads, hour, loadBin(mean)) };
      }
      gathered = [];
    }
    next = withCharge(next, slot, record);
  }
  return { ...next, sohPct: healthOf(block, record) ?? next.sohPct };
}

function withCharge(state: AutonomyState, slot: Slot, record: SiteRecord): AutonomyState {
  const { t, socPct, isIsland, watts } = slot;
  let next = state;
  if (socPct !== null) {
    const hour = Math.floor(hourOfWeek(t, state.utcOffsetMs)) % 24;
    const charges =
      t % HOUR_MS === 0 ? counted(state.charges, hour, Math.floor(socPct / CHARGE_STEP_PCT)) : state.charges;
    next = { ...state, charges, soc: { t: t + SLOT_MS, pct: socPct } };
  }
  const { outage } = next;
  if (isIsland && watts !== null && next.soc !== null) {
    const outputWh = (watts * SLOT_MS) / HOUR_MS;
    const pct = next.soc.pct;
    return outage === null
      ? { ...next, outage: { start: t, end: t + SLOT_MS, outputWh, socFrom: state.soc?.pct ?? pct, socTo: pct } }
      : { ...next, outage: { ...outage, end: t + SLOT_MS, outputWh: outage.outputWh + outputWh, socTo: pct } };
  }
  return outage === null || isIsland ? next : learnFrom({ ...next, outage: null }, outage, record);
}

/** An outage is over: first what would have been said of it, then what it teaches. */
function learnFrom(state: AutonomyState, outage: Outage, record: SiteRecord): AutonomyState {
  const hours = (outage.end - outage.start) / HOUR_MS;
  const points = outage.socFrom - outage.socTo;
  if (points < POINTS_MIN || hours < TEST_MIN_H || outage.outputWh <= 0) return state;
  const { loadP50W } = profileOf(state);
  const usualWh = energyOver(loadP50W, hourOfWeek(outage.start, state.utcOffsetMs), hours);
  const { whPerPoint } = energyOf(state, record);
  const tests =
    usualWh === null || usualWh <= 0 || whPerPoint === null
      ? state.tests
      : [
          ...state.tests,
          {
            start: epochMs(outage.start),
            hours: Math.round(hours * 100) / 100,
            // Hours that the charge used would have lasted, over the hours that it did.
            error: Math.round(((whPerPoint * points) / usualWh - 1) * 1000) / 1000 + 0,
          },
        ].slice(-TESTS_KEPT);
  const learnt = {
    outputWh: Math.round(state.learnt.outputWh + outage.outputWh),
    points: Math.round((state.learnt.points + points) * 10) / 10,
  };
  return { ...state, tests, learnt };
}

/** Wh at the output for a point of charge: from past outages, else from the packs' record and health. */
function energyOf(
  state: AutonomyState,
  record: SiteRecord,
): { readonly whPerPoint: number | null; readonly isLearnt: boolean } {
  const { outputWh, points } = state.learnt;
  if (points >= POINTS_TO_LEARN) return { whPerPoint: outputWh / points, isLearnt: true };
  const wh = record.packs.reduce((sum, pack) => sum + pack.capacity_ah * pack.nominal_voltage_v, 0);
  if (wh === 0) return { whPerPoint: null, isLearnt: false };
  return { whPerPoint: (wh / 100) * ((state.sohPct ?? 100) / 100) * CONVERSION, isLearnt: false };
}

function profileOf(state: AutonomyState): Pick<Autonomy, 'loadP50W' | 'loadP90W'> {
  const hours = Array.from({ length: HOURS_A_WEEK }, (_, hour) => hour);
  const at = (p: number) => (hour: number) => {
    // An hour of the week that was never heard is as the same hour of the other days.
    const own = usualBin(state.loads[hour], p);
    const bin = own ?? usualBin(sameHour(state.loads, hour % 24), p);
    return bin === null ? null : Math.round(loadOfBin(bin));
  };
  return { loadP50W: hours.map(at(0.5)), loadP90W: hours.map(at(0.9)) };
}

function sameHour(loads: Usual, hour: number): { readonly [bin: string]: number } | undefined {
  const sums: Record<string, number> = {};
  for (let day = 0; day < 7; day++)
    for (const [bin, weight] of Object.entries(loads[hour + 24 * day] ?? {})) sums[bin] = (sums[bin] ?? 0) + weight;
  return Object.keys(sums).length === 0 ? undefined : sums;
}

function* slotsOf(block: DayBlock, record: SiteRecord): Generator<Slot> {
  const units = record.units.map(({ id }) => block.units.get(id));
  for (let t: number = block.day; t < block.day + DAY_MS; t += SLOT_MS) {
    const powers = units.map((unit) => meanIn(unit, 'output_power_w', t));
    const watts = powers.some((w) => w === null) ? null : powers.reduce<number>((sum, w) => sum + w!, 0);
    const isIsland = units.length > 0 && units.every((unit) => isAlone(unit, t, record.supply.nominal_voltage_v));
    yield { t, watts, isIsland, socPct: chargeIn(block, record, t) };
  }
}

type Quantity = Parameters<typeof columnOf>[1];

function meanIn(source: SourceDay | undefined, quantity: Quantity, t: number): number | null {
  const column = columnOf(source, quantity);
  if (source === undefined || column === null) return null;
  let sum = 0;
  let count = 0;
  for (let row = firstRowAt(source.tMs, t); row < source.tMs.length && source.tMs[row]! < t + SLOT_MS; row++) {
    if (Number.isNaN(column[row]!)) continue;
    sum += column[row]!;
    count++;
  }
  return count === 0 ? null : sum / count;
}

function lastIn(source: SourceDay | undefined | null, quantity: Quantity, t: number): number | null {
  const column = columnOf(source, quantity);
  if (source === undefined || source === null || column === null) return null;
  for (let row = firstRowAt(source.tMs, t + SLOT_MS) - 1; row >= 0 && source.tMs[row]! >= t; row--)
    if (!Number.isNaN(column[row]!)) return column[row]!;
  return null;
}

const BACKUP = MODES.indexOf('backup');

function isAlone(unit: SourceDay | undefined, t: number, nominalV: number): boolean {
  const mode = lastIn(unit, 'mode', t);
  if (mode !== null) return mode === BACKUP;
  const volts = lastIn(unit, 'grid_voltage_v', t);
  return volts !== null && volts < nominalV / 2;
}

/** The bank's own charge, else the packs' by capacity, else what the lead sees. */
function chargeIn(block: DayBlock, record: SiteRecord, t: number): number | null {
  const bank = lastIn(block.bank, 'bank_soc_pct', t);
  if (bank !== null) return bank;
  let sum = 0;
  let ah = 0;
  for (const pack of record.packs) {
    const pct = lastIn(block.packs.get(pack.id), 'soc_pct', t);
    if (pct === null) {
      ah = 0;
      break;
    }
    sum += pct * pack.capacity_ah;
    ah += pack.capacity_ah;
  }
  if (ah > 0) return sum / ah;
  const lead = record.units.find(({ role }) => role === 'lead');
  return lead === undefined ? null : lastIn(block.units.get(lead.id), 'battery_soc_pct', t);
}

/** Newest health of the packs, by capacity, %; null where one of them reports none. */
function healthOf(block: DayBlock, record: SiteRecord): number | null {
  let sum = 0;
  let ah = 0;
  for (const pack of record.packs) {
    const column = columnOf(block.packs.get(pack.id), 'soh_pct');
    const pct = column?.findLast((value) => !Number.isNaN(value));
    if (pct === undefined) return null;
    sum += pct * pack.capacity_ah;
    ah += pack.capacity_ah;
  }
  return ah > 0 ? Math.round((sum / ah) * 10) / 10 : null;
}

function answer(state: AutonomyState, history: SiteHistory, asOf: number): Answer {
  const record = recordAt(history, asOf);
  const isReserveAssumed = record.reserve_soc_pct === null;
  const reservePct = record.reserve_soc_pct ?? RESERVE_PCT;
  const { whPerPoint, isLearnt } = energyOf(state, record);
  const profile = profileOf(state);
  const isFresh = state.soc !== null && asOf - state.soc.t <= FRESH_MS;
  const usableWh =
    !isFresh || whPerPoint === null ? null : Math.round(Math.max(0, state.soc!.pct - reservePct) * whPerPoint);
  const chargeAt = (p: number) =>
    Array.from({ length: 24 }, (_, hour) => {
      const bin = usualBin(state.charges[hour], p);
      return bin === null ? null : Math.min(100, Math.round(bin * CHARGE_STEP_PCT));
    });
  return {
    findings: [],
    cannotTell: [],
    autonomy: {
      site: history.site,
      at: state.soc === null ? null : epochMs(state.soc.t),
      socPct: state.soc === null ? null : Math.round(state.soc.pct * 10) / 10,
      reservePct,
      isReserveAssumed,
      outputWhPerPoint: whPerPoint === null ? null : Math.round(whPerPoint * 10) / 10,
      isEnergyLearnt: isLearnt,
      usableWh,
      ...profile,
      chargeP50Pct: chargeAt(0.5),
      chargeP10Pct: chargeAt(0.1),
      backTests: state.tests,
      because: untold(state, whPerPoint, isFresh, profile.loadP50W),
    },
  };
}

function untold(
  state: AutonomyState,
  whPerPoint: number | null,
  isFresh: boolean,
  loadW: readonly (number | null)[],
): string | null {
  if (state.soc === null) return 'no charge of the battery is reported';
  if (!isFresh) return 'the charge of the battery is older than two hours';
  if (whPerPoint === null) return 'the record names no packs, and no outage has shown what a point of charge gives';
  return loadW.includes(null) ? 'usual use is not known for every hour of the day yet' : null;
}

export const autonomy: Analyzer<AutonomyState> = { name: 'autonomy', version: 1, begin, fold, answer };
