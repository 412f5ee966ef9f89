/** Output lost: every unit of a phase group without output. */
import { phaseGroups } from '../site/history.ts';
import type { SiteRecord } from '../site/record.ts';
import { MODES } from '../vocabulary/quantities.ts';
import { DAY_MS, MINUTE_MS } from '../vocabulary/time.ts';
import { outputOf, type UnitNow } from './_unit-now.ts';

export interface OutputLoss {
  readonly start: number;
  readonly end: number | null;
  /** Phase groups without output at the start. */
  readonly phases: readonly string[];
  readonly voltageV: number | null;
  readonly nominalV: number;
  readonly duringGridLoss: boolean;
  readonly socPct: number | null;
  /** Power delivered at the newest readings with a live output, W. */
  readonly loadBeforeW: number | null;
  readonly ratedPowerW: number;
  readonly temperatureMaxC: number | null;
  /** `u1 fault`, a unit each. */
  readonly modes: readonly string[];
  /** Greatest power over rating of any unit in the minutes before. */
  readonly peakShare: number | null;
  /** Battery voltage at the units, the highest. */
  readonly dcV: number | null;
  readonly nominalDcV: number | null;
  /** `u1 31`, a unit each: the maker's own numbers about the time of the loss. */
  readonly faultCodes: readonly string[];
}

/** Codes come with the slow readings: one this long before or after the loss belongs to it. */
const CODE_MS = 10 * MINUTE_MS;

/** A unit that last spoke longer ago says nothing about the output now. */
const SPOKEN_MS = DAY_MS;

function groupOutput(
  units: readonly UnitNow[],
  record: SiteRecord,
  t: number,
): { name: string; says: 'live' | 'lost' | 'unknown' }[] {
  const byId = new Map(units.map((unit) => [unit.id, unit]));
  return [...phaseGroups(record)].map(([name, group]) => {
    const says = group.flatMap((unit) => {
      const now = byId.get(unit.id);
      if (now === undefined || now.heardT === null || t - now.heardT > SPOKEN_MS) return [];
      return [outputOf(now, unit, record.supply.nominal_voltage_v, t)];
    });
    if (says.includes('live')) return { name, says: 'live' };
    return { name, says: says.length > 0 && says.every((word) => word === 'lost') ? 'lost' : 'unknown' };
  });
}

const most = (values: readonly (number | null)[]): number | null =>
  values.reduce((a, b) => (a === null ? b : b === null ? a : Math.max(a, b)), null);

const total = (values: readonly (number | null)[]): number | null =>
  values.reduce((a, b) => (a === null ? b : b === null ? a : a + b), null);

function codesAt(units: readonly UnitNow[], t: number): string[] {
  return units.flatMap(({ id, faultCode, faultT }) =>
    faultCode !== null && faultCode !== 0 && faultT !== null && t - faultT <= CODE_MS ? [`${id} ${faultCode}`] : [],
  );
}

function openLoss(watched: Watched, record: SiteRecord, t: number, phases: readonly string[]): OutputLoss {
  const { units, charge } = watched;
  return {
    start: t,
    end: null,
    phases,
    voltageV: most(units.filter((u) => phases.includes(phaseOf(record, u.id))).map((u) => u.voltageLowV)),
    nominalV: record.supply.nominal_voltage_v,
    duringGridLoss: units.some((unit) => unit.place === 'off' && !unit.alone),
    socPct: charge ?? most(units.map((unit) => unit.socPct)),
    loadBeforeW: total(units.map((unit) => unit.livePowerW)),
    ratedPowerW: record.units.reduce((sum, unit) => sum + unit.rated_power_w, 0),
    temperatureMaxC: most(units.map((unit) => unit.temperatureC)),
    peakShare: most(units.map((unit) => (unit.peakT !== null && t - unit.peakT <= CODE_MS ? unit.peakShare : null))),
    dcV: most(units.map((unit) => unit.dcV)),
    nominalDcV: record.packs[0]?.nominal_voltage_v ?? null,
    faultCodes: codesAt(units, t),
    modes: units.map((unit) => `${unit.id} ${unit.mode === null ? 'unknown' : MODES[unit.mode]}`),
  };
}

function phaseOf(record: SiteRecord, id: string): string {
  return record.units.find((unit) => unit.id === id)?.phase ?? '';
}

interface Watched {
  readonly units: readonly UnitNow[];
  readonly charge: number | null;
}

/** The loss that stands at t, if any: opened when a phase group has none left with output. */
export function lossAt(before: OutputLoss | null, watched: Watched, record: SiteRecord, t: number): OutputLoss | null {
  // The common case first: the units that are heard have output, and nothing is lost.
  const nominalV = record.supply.nominal_voltage_v;
  const allLive = watched.units.every((unit) => unit.voltageLowV !== null && unit.voltageLowV > nominalV / 2);
  if (before === null && allLive) return null;
  const groups = groupOutput(watched.units, record, t);
  const lost = groups.filter(({ says }) => says === 'lost').map(({ name }) => name);
  if (before === null) return lost.length > 0 ? openLoss(watched, record, t, lost) : null;
  // A unit that is starting up again proves nothing: the loss ends when what was lost is seen live.
  const isBack = groups.every(
    ({ name, says }) => says === 'live' || (says === 'unknown' && !before.phases.includes(name)),
  );
  const codes = t - before.start > CODE_MS ? [] : codesAt(watched.units, t);
  const faultCodes = [...before.faultCodes, ...codes.filter((code) => !before.faultCodes.includes(code))];
  const now = faultCodes.length === before.faultCodes.length ? before : { ...before, faultCodes };
  return isBack ? { ...now, end: t } : now;
}
