/** The twelve sites with a story: six healthy in different ways, six with a fault or two. */
import { DAY_MS, type EpochMs, epochMs, HOUR_MS, MINUTE_MS } from '../vocabulary/time.ts';
import type { PackPlan, Period, SitePlan, UnitPlan } from './site-plan.ts';

/** Midnight of a day of the period plus some hours. @param share where in the period the day lies, 0 to 1 */
export function instantIn(period: Period, share: number, hour: number): EpochMs {
  const days = (period.to - period.from) / DAY_MS;
  return epochMs(Math.round(period.from + Math.floor(share * days) * DAY_MS + hour * HOUR_MS));
}

interface UnitsWish {
  readonly ratedW: readonly number[];
  /** One way, m, of each unit. */
  readonly outputM: readonly number[];
  readonly inputM?: number;
  readonly areaMm2?: number;
  readonly isThreePhase?: boolean;
  readonly serialFrom: number;
}

export function makeUnits(wish: UnitsWish): UnitPlan[] {
  const { ratedW, outputM, inputM = 6, areaMm2 = 16, isThreePhase = false, serialFrom } = wish;
  return ratedW.map((watts, i) => ({
    id: `u${i + 1}`,
    ratedPowerW: watts,
    phase: isThreePhase ? (['L1', 'L2', 'L3'] as const)[i % 3]! : 'L1',
    serial: `T-${serialFrom + 7 * i}`,
    outputCable: { lengthM: outputM[i]!, areaMm2 },
    inputCable: { lengthM: inputM, areaMm2 },
    contactOhm: 0.004 + 0.0003 * i,
  }));
}

/** @param milliohms one for each pack */
export function makePacks(capacityAh: readonly number[], milliohms: readonly number[]): PackPlan[] {
  return capacityAh.map((ah, k) => ({ id: `p${k + 1}`, capacityAh: ah, resistanceOhm: milliohms[k]! / 1000 }));
}

type Wish = Pick<SitePlan, 'id' | 'name' | 'group' | 'kind' | 'units' | 'packs'> & Partial<SitePlan>;

/** A plain site: wired on the grid, droop on its own, giving to the house in the evening. */
export function makeSite(wish: Wish): SitePlan {
  return {
    sharing: { grid: 'wired', backup: 'droop' },
    duty: 'evening',
    pvShare: 0,
    acPvW: 0,
    bankLine: true,
    timeForm: 'rfc3339',
    lean: false,
    spreadShare: 0.12,
    counterWrapWh: 0,
    heatWave: false,
    brownout: false,
    testAt: null,
    lateOutage: false,
    firmware: null,
    replacement: null,
    faults: [],
    remarks: [],
    ...wish,
  };
}

function clinic(period: Period): SitePlan {
  return makeSite({
    id: 'oxholm-clinic',
    name: 'Oxholm Clinic',
    group: 'oxholm',
    kind: 'clinic',
    units: makeUnits({ ratedW: [8000, 8000], outputM: [5, 7.4], serialFrom: 1042 }),
    packs: makePacks([200, 200, 200], [8, 8.3, 8.1]),
    duty: 'standby',
    counterWrapWh: 10_000_000,
    testAt: instantIn(period, 0.35, 9),
    remarks: [
      'steady shares of about 54 and 46 % by cable length',
      'energy counters wrap at 10 MWh',
      'one planned test',
    ],
  });
}

function bakery(period: Period): SitePlan {
  return makeSite({
    id: 'brackwater-bakery',
    name: 'Brackwater Bakery',
    group: 'tesselvale-lower',
    kind: 'bakery',
    units: makeUnits({ ratedW: [10000, 10000, 10000], outputM: [7, 8, 9], serialFrom: 1107 }),
    packs: makePacks([200, 200, 200, 200], [8, 8.2, 8.4, 8.1]),
    sharing: { grid: 'wired', backup: 'link' },
    timeForm: 'epoch_ms',
    faults: [
      { what: 'loose_terminal', unit: 'u2', addedOhm: 0.02, rampDays: 6, start: instantIn(period, 0.43, 3), end: null },
    ],
  });
}

function school(): SitePlan {
  return makeSite({
    id: 'hazelrow-school',
    name: 'Hazelrow School',
    group: 'tesselvale-upper',
    kind: 'school',
    units: makeUnits({ ratedW: [8000, 8000, 8000], outputM: [6, 6, 6], isThreePhase: true, serialFrom: 1210 }),
    packs: makePacks([200, 200, 200], [8.2, 8, 8.3]),
    pvShare: 0.5,
    bankLine: false,
    brownout: true,
    remarks: ['three phases, one unit each: units do not share', 'brownout ridden through on the grid'],
  });
}

function farm(period: Period): SitePlan {
  return makeSite({
    id: 'linnet-ford-farm',
    name: 'Linnet Ford Farm',
    group: 'tesselvale-lower',
    kind: 'farm',
    units: makeUnits({ ratedW: [8000, 5000], outputM: [6, 10], serialFrom: 1305 }),
    packs: makePacks([200, 200], [8, 8.2]),
    duty: 'standby',
    acPvW: 5200,
    testAt: instantIn(period, 0.5, 11),
    remarks: ['unequal ratings', 'frequency raised on purpose within 49 to 52 Hz to hold AC-coupled PV back'],
  });
}

function dairy(period: Period): SitePlan {
  return makeSite({
    id: 'upper-tessel-dairy',
    name: 'Upper Tessel Dairy',
    group: 'tesselvale-upper',
    kind: 'farm',
    units: makeUnits({ ratedW: [10000, 10000, 10000, 10000], outputM: [6, 7, 8, 9], areaMm2: 25, serialFrom: 1388 }),
    packs: makePacks([200, 200, 200, 200, 200], [8, 8.1, 8.3, 8.2, 8]),
    sharing: { grid: 'wired', backup: 'link' },
    spreadShare: 0.3,
    faults: [{ what: 'pack_open', pack: 'p3', start: instantIn(period, 0.43, 10), end: null }],
  });
}

function shop(period: Period): SitePlan {
  const at = instantIn(period, 0.43, 13);
  return makeSite({
    id: 'mill-lane-shop',
    name: 'Mill Lane Shop',
    group: 'oxholm',
    kind: 'shop',
    units: makeUnits({ ratedW: [6000, 6000], outputM: [5, 6], serialFrom: 1451 }),
    packs: makePacks([200, 200], [8, 8.2]),
    sharing: { grid: 'droop', backup: 'droop' },
    firmware: { at, version: '4.15.0', stepMs: 12 * MINUTE_MS },
    faults: [
      {
        what: 'wrong_setting',
        unit: 'u2',
        key: 'output_voltage_setpoint_v',
        value: 231,
        emfShiftV: 1,
        after: 'a firmware update',
        start: epochMs(at + 12 * MINUTE_MS),
        end: null,
      },
    ],
  });
}

function inn(): SitePlan {
  return makeSite({
    id: 'upper-tessel-inn',
    name: 'Upper Tessel Inn',
    group: 'tesselvale-upper',
    kind: 'shop',
    units: makeUnits({ ratedW: [8000, 8000, 8000], outputM: [5, 8, 11], serialFrom: 1520 }),
    packs: makePacks([200, 200, 200], [7, 9, 11]),
    sharing: { grid: 'droop', backup: 'droop' },
    lateOutage: true,
    bankLine: false,
    remarks: ['units always form the output', 'packs park apart by resistance', 'one outage arrives a day late'],
  });
}

function pharmacy(period: Period): SitePlan {
  return makeSite({
    id: 'ford-pharmacy',
    name: 'Ford Pharmacy',
    group: 'tesselvale-lower',
    kind: 'clinic',
    units: makeUnits({ ratedW: [6000, 6000], outputM: [6, 6.5], serialFrom: 1602 }),
    packs: makePacks([150, 150, 150], [10, 10.3, 10.1]),
    lean: true,
    faults: [
      { what: 'gauge_drift', pack: 'p2', pctPerDay: 1.5, start: instantIn(period, 0.43, 6), end: null },
      { what: 'link_broken', unit: 'u2', start: instantIn(period, 0.5, 14), end: null },
    ],
  });
}

function hall(): SitePlan {
  return makeSite({
    id: 'chapel-road-hall',
    name: 'Chapel Road Hall',
    group: 'oxholm',
    kind: 'school',
    units: makeUnits({ ratedW: [8000, 8000], outputM: [6, 6], serialFrom: 1677 }),
    packs: makePacks([100, 100, 200], [15, 15.2, 7.6]),
    pvShare: 0.6,
    heatWave: true,
    timeForm: 'epoch_ms',
    spreadShare: 0.3,
    remarks: ['packs of different capacity', 'heat wave in the last third'],
  });
}

function workshop(period: Period): SitePlan {
  return makeSite({
    id: 'quarry-workshop',
    name: 'Quarry Workshop',
    group: 'tesselvale-upper',
    kind: 'workshop',
    units: makeUnits({ ratedW: [5000, 5000], outputM: [6, 7], areaMm2: 10, serialFrom: 1733 }),
    packs: makePacks([200, 200], [8, 8.1]),
    faults: [{ what: 'overload', addedShare: 0.75, trips: true, start: instantIn(period, 0.43, 0), end: null }],
    remarks: ['a new machine from the start of the fault on: more than the set can carry on its own'],
  });
}

function library(period: Period): SitePlan {
  return makeSite({
    id: 'weir-house-library',
    name: 'Weir House Library',
    group: 'oxholm',
    kind: 'school',
    units: makeUnits({ ratedW: [6000, 6000, 6000], outputM: [6, 7, 7], serialFrom: 1810 }),
    packs: makePacks([200, 200], [8, 8.4]),
    pvShare: 0.3,
    brownout: true,
    firmware: { at: instantIn(period, 0.3, 20), version: '4.15.0', stepMs: 11 * MINUTE_MS },
    replacement: {
      unit: 'u2',
      at: epochMs(instantIn(period, 0.55, 3) + 10 * MINUTE_MS),
      serial: 'T-2291',
      contactOhm: 0.0075,
    },
    remarks: ['u2 replaced: its share steps with the new record', 'firmware updated unit by unit within 30 minutes'],
  });
}

function coldStore(period: Period): SitePlan {
  const down = instantIn(period, 0.55, 9);
  return makeSite({
    id: 'orchard-cold-store',
    name: 'Orchard Cold Store',
    group: 'tesselvale-lower',
    kind: 'shop',
    units: makeUnits({ ratedW: [8000, 8000, 8000], outputM: [6, 7, 8], serialFrom: 1904 }),
    packs: makePacks([300, 300, 300], [6, 6.1, 6.2]),
    sharing: { grid: 'droop', backup: 'droop' },
    faults: [
      { what: 'dead_fan', unit: 'u2', start: instantIn(period, 0.43, 11), end: null },
      { what: 'router_down', start: down, end: epochMs(down + 9 * HOUR_MS) },
    ],
  });
}

/** In the order in which a smaller fleet takes them. */
export const STORIES: readonly ((period: Period) => SitePlan)[] = [
  clinic,
  bakery,
  school,
  shop,
  farm,
  dairy,
  inn,
  pharmacy,
  hall,
  workshop,
  library,
  coldStore,
];
