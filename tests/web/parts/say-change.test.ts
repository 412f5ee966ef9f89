import { describe, expect, test } from 'vitest';
import { settingName } from '../../../server/views/setting-name.ts';
import { sayChange, settingValue } from '../../../web/parts/say-change.ts';

describe('settings as text', () => {
  test('the unit of a setting goes with its value, not with its name', () => {
    expect(settingName('output_voltage_setpoint_v')).toBe('output voltage setpoint');
    expect(settingValue('output_voltage_setpoint_v', 230)).toBe('230\u00a0V');
    expect(settingName('low_soc_cutoff_pct')).toBe('low charge cutoff');
  });
  test('a contradicted setting is said to be one, never left empty', () => {
    expect(settingValue('firmware', null)).toBe('contradicted');
  });
  test('a change says the unit, what, from what and to what', () => {
    expect(sayChange({ unit: 'u2', key: 'battery_shared', t: 0, from: true, to: false })).toBe(
      'u2 battery shared yes to no',
    );
  });
});
