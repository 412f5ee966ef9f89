/** The site record of a simulated site, through the reader that an installer's file goes through. */
import { stringify } from 'yaml';
import { checkSites } from '../../ingest/site/check-sites.ts';
import type { SiteHistory } from '../../ingest/site/record.ts';
import { formatDay } from '../../ingest/vocabulary/time.ts';
import type { SimSite } from './plan.ts';

export function historyOf(site: SimSite): SiteHistory {
  const phases = new Set(site.units.map((u) => u.phase)).size;
  const document = (validFrom: number | null) => ({
    site: site.id,
    ...(validFrom === null ? {} : { valid_from: formatDay(validFrom) }),
    name: site.id,
    timezone: 'Europe/Lisbon',
    supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50, phases },
    sample_interval_s: site.stepMs / 1000,
    units: site.units.map((u, i) => ({
      id: u.id,
      role: i === 0 ? 'lead' : 'follower',
      rated_power_w: u.ratedW,
      phase: u.phase,
      serial: validFrom !== null && site.replaced?.place === i ? 'N-2' : `S-${i}`,
      chain_position: i + 1,
      terminated: i === 0 || i === site.units.length - 1,
      output_cable: { length_m: u.outM, area_mm2: u.areaMm2, material: 'copper' },
      input_cable: { length_m: u.inM, area_mm2: u.areaMm2, material: 'copper' },
    })),
    packs: site.packs.map((p) => ({
      id: p.id,
      capacity_ah: p.capacityAh,
      nominal_voltage_v: 51.2,
      cells_in_series: 16,
      chemistry: 'lfp',
    })),
    battery_link: { pack: site.packs[0]!.id, unit: site.units[0]!.id },
    ct: site.hasCt ? [{ unit: site.units[0]!.id }] : [],
    neutral_earth_bond: { by: 'external' },
    ...(site.saysLaw ? { sharing: site.law } : {}),
    reserve_soc_pct: 15,
    ...(site.acPvW > 0 && site.faults.every((f) => f.what !== 'surplus')
      ? { ac_coupled_pv: true, island_frequency_band_hz: [49, 52] }
      : {}),
    commissioned: formatDay(site.from),
  });
  const documents = [document(null), ...(site.replaced === null ? [] : [document(site.replaced.at)])];
  const checked = checkSites([{ file: 'sites.yaml', text: documents.map((d) => stringify(d)).join('---\n') }]);
  const history = checked.histories.get(site.id);
  if (history === undefined || checked.refusals.length > 0)
    throw new RangeError(`The record of ${site.id} is not taken: ${JSON.stringify(checked.refusals)}`);
  return history;
}
