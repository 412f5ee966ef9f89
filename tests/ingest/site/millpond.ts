/** The site record of the contract, without its comments. */
export const MILLPOND = `site: millpond
valid_from: 2026-03-02
name: Millpond Clinic
timezone: Europe/Lisbon
supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50, phases: 1 }
sample_interval_s: 10
units:
  - id: u1
    role: lead
    rated_power_w: 8000
    phase: L1
    serial: A-1042
    chain_position: 1
    terminated: true
    output_cable: { length_m: 6, area_mm2: 16, material: copper }
    input_cable: { length_m: 8, area_mm2: 16, material: copper }
  - id: u2
    role: follower
    rated_power_w: 8000
    phase: L1
    chain_position: 2
    terminated: true
    output_cable: { length_m: 9, area_mm2: 16, material: copper }
packs:
  - { id: p1, capacity_ah: 100, nominal_voltage_v: 51.2, cells_in_series: 16, chemistry: lfp }
  - { id: p2, capacity_ah: 100, nominal_voltage_v: 51.2, cells_in_series: 16, chemistry: lfp }
battery_link: { pack: p1, unit: u1 }
ct: [{ unit: u1, phase: L1 }]
meters: [{ id: m1, role: ac_pv }]
neutral_earth_bond: { by: external }
sharing: { grid: wired, backup: droop }
reserve_soc_pct: 20
ac_coupled_pv: false
island_frequency_band_hz: [49.0, 51.0]
island_voltage_band_pct: [-10, 10]
commissioned: 2026-03-02
group: valley-north
limits: { share_points: 3, heat_w: 10, changeover_ms: 20 }
expected_settings: { battery_type: lithium, battery_shared: true }
`;

/** The record with one piece of its text replaced by another. */
export function millpondWith(instead: string, write: string): string {
  const at = MILLPOND.indexOf(instead);
  if (at < 0) throw new RangeError(`Cannot replace ${JSON.stringify(instead)}: it is not in the record`);
  return MILLPOND.slice(0, at) + write + MILLPOND.slice(at + instead.length);
}

/** Takes the marks ‸ out of a text and says where they stood: line and column, from 1. */
export function unmarked(marked: string): { readonly text: string; readonly marks: readonly string[] } {
  const marks: string[] = [];
  const lines = marked.split('\n').map((line, i) => {
    const parts = line.split('‸');
    for (let k = 1; k < parts.length; k++) marks.push(`${i + 1}:${parts.slice(0, k).join('').length + 1}`);
    return parts.join('');
  });
  return { text: lines.join('\n'), marks };
}
