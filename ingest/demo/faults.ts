/** The faults that can be put into a site: when they hold, what they change, and how they are labelled. */
import type { Cause, FindingKind } from '../vocabulary/finding.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import { DAY_MS, type EpochMs, formatTime } from '../vocabulary/time.ts';
import type { FaultLabel } from './labels.ts';

interface Span {
  readonly start: EpochMs;
  /** null: to the end of the logs. */
  readonly end: EpochMs | null;
}

export type FaultPlan = Span &
  (
    | { readonly what: 'loose_terminal'; readonly unit: string; readonly addedOhm: number; readonly rampDays: number }
    | {
        readonly what: 'wrong_setting';
        readonly unit: string;
        readonly key: string;
        readonly value: SettingValue;
        readonly emfShiftV: number;
        readonly after: string;
      }
    | { readonly what: 'dead_fan'; readonly unit: string }
    | { readonly what: 'output_open'; readonly unit: string }
    | { readonly what: 'gauge_drift'; readonly pack: string; readonly pctPerDay: number }
    | { readonly what: 'pack_open'; readonly pack: string }
    | { readonly what: 'pack_resistance'; readonly pack: string; readonly factor: number }
    | { readonly what: 'pack_capacity'; readonly pack: string; readonly factor: number; readonly rampDays: number }
    | { readonly what: 'link_broken'; readonly unit: string }
    | { readonly what: 'data_cable_broken' }
    | { readonly what: 'overload'; readonly addedShare: number; readonly trips: boolean }
    | { readonly what: 'weak_voltage'; readonly sagOhm: number }
    | { readonly what: 'unit_gateway_dead'; readonly unit: string }
    | { readonly what: 'pack_line_dead'; readonly pack: string }
    | { readonly what: 'router_down' }
  );

/** What holds at one instant. Arrays go by the places of units and packs in the plan. */
export interface Effects {
  readonly addedOhm: Float64Array;
  readonly emfShiftV: Float64Array;
  readonly fanDead: Uint8Array;
  readonly outputOpen: Uint8Array;
  /** The unit gets no state of charge. */
  readonly batteryUnseen: Uint8Array;
  readonly unitSilent: Uint8Array;
  readonly packOpen: Uint8Array;
  readonly packOhmFactor: Float64Array;
  readonly capacityFactor: Float64Array;
  readonly gaugePctPerDay: Float64Array;
  readonly packSilent: Uint8Array;
  siteSilent: boolean;
  sagOhm: number;
  /** Load that was added to the site, as a share of its rating. */
  overloadShare: number;
}

export function createEffects(units: number, packs: number): Effects {
  return {
    addedOhm: new Float64Array(units),
    emfShiftV: new Float64Array(units),
    fanDead: new Uint8Array(units),
    outputOpen: new Uint8Array(units),
    batteryUnseen: new Uint8Array(units),
    unitSilent: new Uint8Array(units),
    packOpen: new Uint8Array(packs),
    packOhmFactor: new Float64Array(packs).fill(1),
    capacityFactor: new Float64Array(packs).fill(1),
    gaugePctPerDay: new Float64Array(packs),
    packSilent: new Uint8Array(packs),
    siteSilent: false,
    sagOhm: 0,
    overloadShare: 0,
  };
}

function reset(effects: Effects): void {
  effects.addedOhm.fill(0);
  effects.emfShiftV.fill(0);
  effects.packOhmFactor.fill(1);
  effects.capacityFactor.fill(1);
  effects.gaugePctPerDay.fill(0);
  for (const flags of [effects.fanDead, effects.outputOpen, effects.batteryUnseen, effects.unitSilent]) flags.fill(0);
  for (const flags of [effects.packOpen, effects.packSilent]) flags.fill(0);
  effects.siteSilent = false;
  effects.sagOhm = 0;
  effects.overloadShare = 0;
}

/** How far a fault that grows over `rampDays` has come, 0 to 1; a step where rampDays is 0. */
function grown(fault: FaultPlan, rampDays: number, tMs: number): number {
  return rampDays === 0 ? 1 : Math.min(1, (tMs - fault.start) / (rampDays * DAY_MS));
}

/** Sets `effects` to what holds at tMs. Places are looked up by id in the lists given. */
export function effectsAt(
  effects: Effects,
  faults: readonly FaultPlan[],
  unitIds: readonly string[],
  packIds: readonly string[],
  tMs: number,
): void {
  if (faults.length === 0) return;
  reset(effects);
  for (const fault of faults) {
    if (tMs < fault.start || (fault.end !== null && tMs >= fault.end)) continue;
    const i = 'unit' in fault ? unitIds.indexOf(fault.unit) : -1;
    const k = 'pack' in fault ? packIds.indexOf(fault.pack) : -1;
    put(effects, fault, i, k, tMs);
  }
}

function put(effects: Effects, fault: FaultPlan, i: number, k: number, tMs: number): void {
  switch (fault.what) {
    case 'loose_terminal':
      effects.addedOhm[i] = fault.addedOhm * grown(fault, fault.rampDays, tMs);
      return;
    case 'wrong_setting':
      effects.emfShiftV[i] = fault.emfShiftV;
      return;
    case 'dead_fan':
      effects.fanDead[i] = 1;
      return;
    case 'output_open':
      effects.outputOpen[i] = 1;
      return;
    case 'gauge_drift':
      effects.gaugePctPerDay[k] = fault.pctPerDay;
      return;
    case 'pack_open':
      effects.packOpen[k] = 1;
      return;
    case 'pack_resistance':
      effects.packOhmFactor[k] = fault.factor;
      return;
    case 'pack_capacity':
      effects.capacityFactor[k] = 1 - (1 - fault.factor) * grown(fault, fault.rampDays, tMs);
      return;
    case 'link_broken':
      effects.batteryUnseen[i] = 1;
      return;
    case 'data_cable_broken':
      effects.batteryUnseen.fill(1);
      return;
    case 'overload':
      effects.overloadShare = fault.addedShare;
      return;
    case 'weak_voltage':
      effects.sagOhm = fault.sagOhm;
      return;
    case 'unit_gateway_dead':
      effects.unitSilent[i] = 1;
      return;
    case 'pack_line_dead':
      effects.packSilent[k] = 1;
      return;
    case 'router_down':
      effects.siteSilent = true;
      return;
  }
}

interface Named {
  readonly kind: FindingKind;
  readonly subject: string;
  readonly cause?: Cause;
  readonly note: string;
}

/** The words for a fault, or null where only its consequences in an outage are labelled. */
function named(fault: FaultPlan): Named | null {
  switch (fault.what) {
    case 'loose_terminal':
      return {
        kind: 'share_drift',
        subject: fault.unit,
        cause: 'feeder_resistance',
        note: `terminal at the output worked loose: ${(fault.addedOhm * 1000).toFixed(1)} mΩ added over ${fault.rampDays} days`,
      };
    case 'wrong_setting':
      return {
        kind: 'settings_mismatch',
        subject: fault.unit,
        note: `${fault.key} became ${String(fault.value)} after ${fault.after}${fault.emfShiftV === 0 ? '' : '; the shares shift with it'}`,
      };
    case 'dead_fan':
      return {
        kind: 'share_drift',
        subject: fault.unit,
        cause: 'unit_limited',
        note: 'fan dead: the unit cuts its power back as its heatsink warms',
      };
    case 'output_open':
      return {
        kind: 'share_drift',
        subject: fault.unit,
        cause: 'unit_not_carrying',
        note: 'output breaker of the unit left open',
      };
    case 'gauge_drift':
      return {
        kind: 'soc_divergence',
        subject: fault.pack,
        cause: 'gauge_error',
        note: `gauge runs off by ${fault.pctPerDay} % a day and no full charge resets it`,
      };
    case 'pack_open':
      return { kind: 'pack_not_carrying', subject: fault.pack, note: 'contactor open: no current' };
    case 'pack_resistance':
      return { kind: 'pack_not_carrying', subject: fault.pack, note: `lug corroded: resistance × ${fault.factor}` };
    case 'pack_capacity':
      return {
        kind: 'pack_capacity_loss',
        subject: fault.pack,
        note: `capacity down to ${Math.round(fault.factor * 100)} % over ${fault.rampDays} days`,
      };
    case 'link_broken':
      return {
        kind: 'battery_unseen',
        subject: fault.unit,
        cause: 'parallel_link',
        note: 'parallel link broken: this unit gets no battery data',
      };
    case 'data_cable_broken':
      return {
        kind: 'battery_unseen',
        subject: 'site',
        cause: 'data_cable',
        note: 'data cable to the lead pack broken: no unit sees the battery',
      };
    case 'unit_gateway_dead':
      return { kind: 'unit_silent', subject: fault.unit, note: 'gateway of this unit dead' };
    case 'pack_line_dead':
      return { kind: 'pack_silent', subject: fault.pack, note: 'data line of this pack dead' };
    case 'router_down':
      return { kind: 'site_silent', subject: 'site', note: 'router down; nothing was kept for later' };
    case 'overload':
    case 'weak_voltage':
      return null;
  }
}

/** The labels of faults that are labelled as such; overload and weak voltage are labelled by what an outage made of them. */
export function faultLabels(faults: readonly FaultPlan[]): FaultLabel[] {
  return faults.flatMap((fault) => {
    const words = named(fault);
    if (words === null) return [];
    const { note, ...head } = words;
    return [
      { ...head, start: formatTime(fault.start), ...(fault.end === null ? {} : { end: formatTime(fault.end) }), note },
    ];
  });
}
