/** A backup event as it leaves the process (formats.md, section 4). */
import type { BackupEvent } from '../vocabulary/finding.ts';
import { COLUMNS, type QuantityId } from '../vocabulary/quantities.ts';
import { formatTime, SECOND_MS } from '../vocabulary/time.ts';

const DECIMALS = new Map<QuantityId, number>(
  Object.values(COLUMNS)
    .flat()
    .map(({ id, decimals }) => [id, decimals]),
);

/** Rounded to what is kept of the quantity: what every answer says of an event. */
export function rounded(value: number | null, like: QuantityId): number | null {
  const scale = 10 ** DECIMALS.get(like)!;
  return value === null ? null : Math.round(value * scale) / scale + 0;
}

/** How long it lasted, in seconds; null while it lasts. */
export function eventSeconds({ start, end }: BackupEvent): number | null {
  return end === null ? null : (end - start) / SECOND_MS;
}

/** The keys of the contract, in its order. */
export function eventJson(event: BackupEvent): Record<string, unknown> {
  return {
    site: event.site,
    start: formatTime(event.start),
    end: event.end === null ? null : formatTime(event.end),
    duration_s: eventSeconds(event),
    start_uncertainty_s: event.startUncertaintyS,
    held: event.held,
    output_lost_s: event.outputLostS,
    occasion: event.occasion,
    energy_wh: rounded(event.energyWh, 'output_energy_wh'),
    peak_w: rounded(event.peakW, 'output_power_w'),
    soc_start_pct: rounded(event.socStartPct, 'bank_soc_pct'),
    soc_end_pct: rounded(event.socEndPct, 'bank_soc_pct'),
    frequency_min_hz: rounded(event.frequencyMinHz, 'output_frequency_hz'),
    frequency_max_hz: rounded(event.frequencyMaxHz, 'output_frequency_hz'),
    voltage_min_v: rounded(event.voltageMinV, 'output_voltage_v'),
    voltage_max_v: rounded(event.voltageMaxV, 'output_voltage_v'),
    units: Object.fromEntries(
      Object.entries(event.units).map(([id, { energyWh }]) => [
        id,
        { energy_wh: rounded(energyWh, 'output_energy_wh') },
      ]),
    ),
  };
}
