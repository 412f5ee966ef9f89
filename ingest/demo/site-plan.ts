/** A site as the simulator builds it: what is really there, which the logs only hint at. */
import type { SharingLaw } from '../site/record.ts';
import type { EpochMs } from '../vocabulary/time.ts';
import type { FaultPlan } from './faults.ts';

export type SiteKind = 'clinic' | 'bakery' | 'school' | 'farm' | 'shop' | 'workshop';

/** A copper run, one way. */
export interface CablePlan {
  readonly lengthM: number;
  readonly areaMm2: number;
}

export interface UnitPlan {
  readonly id: string;
  readonly ratedPowerW: number;
  readonly phase: 'L1' | 'L2' | 'L3';
  readonly serial: string;
  readonly outputCable: CablePlan;
  readonly inputCable: CablePlan;
  /** Relay and terminals of the whole path, Ω. */
  readonly contactOhm: number;
}

export interface PackPlan {
  readonly id: string;
  readonly capacityAh: number;
  /** Cells, busbars and lugs of this pack up to the common busbar, Ω. */
  readonly resistanceOhm: number;
}

/** A unit exchanged early one morning: new serial, other contact resistance, counters from zero. */
interface Replacement {
  readonly unit: string;
  readonly at: EpochMs;
  readonly serial: string;
  readonly contactOhm: number;
}

/** New firmware, one unit after the other. */
interface FirmwareUpdate {
  readonly at: EpochMs;
  readonly version: string;
  /** Time from one unit to the next. */
  readonly stepMs: number;
}

export interface SitePlan {
  readonly id: string;
  readonly name: string;
  readonly group: string;
  readonly kind: SiteKind;
  readonly units: readonly UnitPlan[];
  readonly packs: readonly PackPlan[];
  readonly sharing: { readonly grid: SharingLaw; readonly backup: SharingLaw };
  /** standby: kept full for an outage. evening: gives to the house from late afternoon, refilled after. */
  readonly duty: 'standby' | 'evening';
  /** PV on the units' own inputs, peak, as a share of the rating; 0 = none. */
  readonly pvShare: number;
  /** PV with its own inverter on the backup output, behind meter m1; peak, W. */
  readonly acPvW: number;
  readonly bankLine: boolean;
  /** How the gateway writes `t`. */
  readonly timeForm: 'rfc3339' | 'epoch_ms';
  /** A gateway that sends only the main quantities. */
  readonly lean: boolean;
  /** How far apart the units are sampled, as a share of the interval. */
  readonly spreadShare: number;
  /** Energy counters wrap at this many Wh; 0 = never in these years. */
  readonly counterWrapWh: number;
  readonly heatWave: boolean;
  readonly brownout: boolean;
  /** A planned test of the changeover. */
  readonly testAt: EpochMs | null;
  /** Telemetry of one outage arrives a day late. */
  readonly lateOutage: boolean;
  readonly firmware: FirmwareUpdate | null;
  readonly replacement: Replacement | null;
  readonly faults: readonly FaultPlan[];
  readonly remarks: readonly string[];
}

/** The period that is written. `to` is not in it any more. */
export interface Period {
  readonly from: EpochMs;
  readonly to: EpochMs;
  readonly everyMs: number;
  readonly eventEveryMs: number;
}
