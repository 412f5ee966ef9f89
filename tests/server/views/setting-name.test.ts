import { expect, test } from 'vitest';
import { settingHeld, settingName, settingUnit } from '../../../server/views/setting-name.ts';

test.each([
  ['output_voltage_setpoint_v', 'output voltage setpoint', 'V'],
  ['low_soc_cutoff_pct', 'low charge cutoff', '%'],
  ['battery_type', 'battery type', null],
  ['firmware', 'firmware', null],
])('%s is named %s, its unit %s goes with the value', (key, name, unit) => {
  expect([settingName(key), settingUnit(key)]).toEqual([name, unit]);
});

test.each([
  ['output_voltage_setpoint_v', 'u1 230', 'u1 230\u00a0V'],
  ['output_voltage_setpoint_v', 'u1 unknown', 'u1 unknown'],
  ['battery_type', 'u2 lead_acid', 'u2 lead acid'],
])('of %s, %s is said as %s', (key, held, said) => {
  expect(settingHeld(key, held)).toBe(said);
});
