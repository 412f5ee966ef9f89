import { describe, expect, test } from 'vitest';
import { type DeviceConfig, deviceFaults, sourcesOf } from '../../../../ingest/wire/modbus/device-config.ts';
import { parseProfile } from '../../../../ingest/wire/modbus/profile.ts';

const PROFILE = parseProfile(
  'profile: p\nregisters: [{ quantity: output_power_w, table: holding, address: 1, type: int16 }]',
  'p.yaml',
).profile!;

const faultsOf = (device: Omit<DeviceConfig, 'site' | 'reads'> & { reads?: DeviceConfig['reads'] }): string[] =>
  deviceFaults({ reads: 'sunspec', ...device }).map(({ path, fault }) => `${path.join('.')}: ${fault.what}`);

describe('deviceFaults', () => {
  test('takes what the contract shows', () => {
    expect(faultsOf({ unit: 'u1' })).toEqual([]);
    expect(faultsOf({ pack: 'p1', current_sign: 'charge_positive' })).toEqual([]);
    expect(faultsOf({ packs: ['p1', 'p2'], strings: [1, 2] })).toEqual([]);
    expect(faultsOf({ unit: 'u1', map: { W: 'grid_power_w', '701.VL1': 'grid_voltage_v', TmpCab: null } })).toEqual([]);
    expect(faultsOf({ unit: 'u1', reads: { profile: PROFILE } })).toEqual([]);
  });
  test('says each contradiction at its key', () => {
    expect(faultsOf({})).toEqual([': the device carries no source']);
    expect(faultsOf({ pack: 'p1', packs: ['p2'] })).toEqual(['packs: both pack and packs are given']);
    expect(faultsOf({ packs: ['p1', 'p1'] })).toEqual(['packs: a pack is named twice']);
    expect(faultsOf({ packs: ['p1', 'p2'], strings: [1] })).toEqual(['strings: 1 strings stand for 2 packs']);
    expect(faultsOf({ unit: 'u1', map: { Wx: 'grid_power_w', W: 'grid', Hz: 'soc_pct', St: 'mode' } })).toEqual([
      'map.Wx: Wx is no point of a model that is read',
      'map.W: grid is no quantity',
      'map.Hz: soc_pct is a quantity of a pack, and the device carries none',
      'map.St: mode is a word, no number',
    ]);
    expect(faultsOf({ pack: 'p1', base: 4, reads: { profile: PROFILE } })).toEqual([
      'base: base says nothing beside a profile',
      'reads: profile p has no quantity of a pack',
    ]);
  });
});

describe('sourcesOf', () => {
  test('names every source of a device, packs in order', () => {
    const all = sourcesOf({ site: 's', unit: 'u1', packs: ['p2', 'p1'], bank: 'bank', meter: 'm1', reads: 'sunspec' });
    expect(all.map(({ kind, id }) => `${kind} ${id}`)).toEqual([
      'unit u1',
      'pack p2',
      'pack p1',
      'bank bank',
      'meter m1',
    ]);
  });
});
