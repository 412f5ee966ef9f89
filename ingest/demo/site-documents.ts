/** The site record of a plan, as the YAML documents an installer would have written. */
import { stringify } from 'yaml';
import { formatDay } from '../vocabulary/time.ts';
import type { CablePlan, Period, SitePlan } from './site-plan.ts';

const TIMEZONE = 'Europe/Vienna';

function cable({ lengthM, areaMm2 }: CablePlan) {
  return { length_m: lengthM, area_mm2: areaMm2, material: 'copper' };
}

function unitEntries(plan: SitePlan, isSwapped: boolean) {
  return plan.units.map((unit, i) => ({
    id: unit.id,
    role: i === 0 ? 'lead' : 'follower',
    rated_power_w: unit.ratedPowerW,
    phase: unit.phase,
    serial: isSwapped && plan.replacement?.unit === unit.id ? plan.replacement.serial : unit.serial,
    chain_position: i + 1,
    terminated: i === 0 || i === plan.units.length - 1,
    output_cable: cable(unit.outputCable),
    input_cable: cable(unit.inputCable),
  }));
}

function transformers(plan: SitePlan) {
  const isThreePhase = new Set(plan.units.map((unit) => unit.phase)).size > 1;
  const owners = isThreePhase ? plan.units : plan.units.slice(0, 1);
  return owners.map((unit) => ({ unit: unit.id, phase: unit.phase }));
}

function siteDocument(plan: SitePlan, period: Period, validFrom: number | null) {
  const phases = new Set(plan.units.map((unit) => unit.phase)).size;
  const hasAcPv = plan.acPvW > 0;
  return {
    site: plan.id,
    ...(validFrom === null ? {} : { valid_from: formatDay(validFrom) }),
    name: plan.name,
    timezone: TIMEZONE,
    supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50, phases },
    sample_interval_s: period.everyMs / 1000,
    units: unitEntries(plan, validFrom !== null),
    packs: plan.packs.map((pack) => ({
      id: pack.id,
      capacity_ah: pack.capacityAh,
      nominal_voltage_v: 51.2,
      cells_in_series: 16,
      chemistry: 'lfp',
    })),
    battery_link: { pack: plan.packs[0]!.id, unit: plan.units[0]!.id },
    ct: transformers(plan),
    ...(hasAcPv ? { meters: [{ id: 'm1', role: 'ac_pv' }] } : {}),
    neutral_earth_bond: { by: 'external' },
    sharing: plan.sharing,
    reserve_soc_pct: 20,
    ac_coupled_pv: hasAcPv,
    island_frequency_band_hz: hasAcPv ? [49, 52] : [49, 51],
    island_voltage_band_pct: [-10, 10],
    commissioned: formatDay(period.from),
    group: plan.group,
    expected_settings: { battery_type: 'lithium', battery_shared: true },
  };
}

/** The documents of one site: one, and one more from the day a unit was replaced. */
export function siteDocuments(plan: SitePlan, period: Period): string[] {
  const documents = [siteDocument(plan, period, null)];
  if (plan.replacement !== null) documents.push(siteDocument(plan, period, plan.replacement.at));
  return documents.map((document) => stringify(document, { lineWidth: 160 }));
}
