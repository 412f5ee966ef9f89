/** What one site of a verdict fleet is, and what goes wrong in it. Units of W, V, Ω, Ah, ms since 1970. */
import type { FindingKind } from '../../ingest/vocabulary/finding.ts';

export interface Span {
  readonly start: number;
  readonly end: number;
}

export interface SimUnit {
  readonly id: string;
  readonly ratedW: number;
  readonly phase: 'L1' | 'L2' | 'L3';
  readonly outM: number;
  readonly inM: number;
  readonly areaMm2: number;
  readonly contactOhm: number;
  readonly droopOhm: number;
  readonly emfV: number;
  /** Of its power meter. */
  readonly gain: number;
  readonly voltOffset: number;
  /** When in each interval it is asked. */
  readonly offsetMs: number;
}

export interface SimPack {
  readonly id: string;
  readonly capacityAh: number;
  readonly ohm: number;
  readonly gaugeGain: number;
  readonly startSoc: number;
  readonly cellSpreadV: number;
  readonly offsetMs: number;
}

export type FaultWhat =
  | 'path'
  | 'emf'
  | 'ceiling'
  | 'open_output'
  | 'meter_gain'
  | 'gauge_drift'
  | 'gauge_jump'
  | 'pack_open'
  | 'pack_path'
  | 'pack_capacity'
  | 'cell'
  | 'overload_sag'
  | 'overload_trip'
  | 'surplus'
  | 'hunting'
  | 'voltage_sag'
  | 'frequency_meter'
  | 'input_breaker'
  | 'phase_lost'
  | 'soc_unseen'
  | 'soc_unseen_all'
  | 'battery_breaker'
  | 'setting'
  | 'ct_turned'
  | 'unit_silent'
  | 'pack_silent'
  | 'site_silent'
  | 'stuck'
  | 'clock';

export interface Fault {
  readonly kind: FindingKind;
  /** Kinds that say the same condition as well. */
  readonly also: readonly FindingKind[];
  readonly cause: string | null;
  readonly subject: string;
  readonly what: FaultWhat;
  /** Place of the unit or pack; −1: all. */
  readonly place: number;
  readonly start: number;
  readonly end: number | null;
  readonly rampMs: number;
  /** Ω, V, share, factor, % a day, s …: what the fault means by it. */
  readonly size: number;
  readonly quantity: string | null;
  readonly key: string | null;
  readonly value: string | number | boolean | null;
}

export type Law = 'wired' | 'droop' | 'link';

export interface SimSite {
  readonly id: string;
  readonly seed: number;
  readonly from: number;
  readonly days: number;
  readonly stepMs: number;
  readonly units: readonly SimUnit[];
  readonly packs: readonly SimPack[];
  readonly law: { readonly grid: Law; readonly backup: Law };
  readonly saysLaw: boolean;
  readonly duty: 'standby' | 'evening';
  readonly pvW: number;
  readonly acPvW: number;
  readonly hasCt: boolean;
  readonly hasMode: boolean;
  readonly isLean: boolean;
  readonly hasBank: boolean;
  readonly socStep: number;
  readonly powerStepW: number;
  readonly jitterMs: number;
  readonly dropShare: number;
  /** Mean load as a share of the rating. */
  readonly loadShare: number;
  readonly outages: readonly (Span & { readonly reconnectMs: number })[];
  readonly brownouts: readonly Span[];
  /** Times of a firmware update of each unit; empty: none. */
  readonly updates: readonly number[];
  readonly replaced: { readonly place: number; readonly at: number; readonly contactOhm: number } | null;
  readonly isHot: boolean;
  readonly faults: readonly Fault[];
}

/** How far a fault has come at t, 0 to 1. */
export function levelOf(fault: Fault, t: number): number {
  if (t < fault.start || (fault.end !== null && t >= fault.end)) return 0;
  return fault.rampMs === 0 ? 1 : Math.min(1, (t - fault.start) / fault.rampMs);
}
