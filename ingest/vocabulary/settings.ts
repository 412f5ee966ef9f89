/** Settings that every unit of a site must share; compared across units and with the site record. */
export const SHARED_SETTINGS = [
  'battery_type',
  'battery_protocol',
  'battery_shared',
  'output_voltage_setpoint_v',
  'output_frequency_setpoint_hz',
  'low_soc_cutoff_pct',
  'firmware',
] as const;

/** Settings compared only with the site record: each unit has its own. */
export const OWN_SETTINGS = ['serial', 'phase'] as const;
