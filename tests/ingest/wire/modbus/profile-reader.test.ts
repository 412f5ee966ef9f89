import { describe, expect, test } from 'vitest';
import { BatchBuilder } from '../../../../ingest/wire/batch-builder.ts';
import type { DeviceConfig } from '../../../../ingest/wire/modbus/device-config.ts';
import { createDeviceReader } from '../../../../ingest/wire/modbus/device-reader.ts';
import { addPoll } from '../../../../ingest/wire/modbus/poll-result.ts';
import { parseProfile } from '../../../../ingest/wire/modbus/profile.ts';
import { createMemoryDevice, pollOnce, readingOf, talk } from './_device.ts';

const SILENT = { ok: false, exception: null } as const;

function deviceOf(yaml: string, rest: Partial<DeviceConfig> = { unit: 'u1' }): DeviceConfig {
  const { profile, mistakes } = parseProfile(`profile: test\n${yaml}`, 'test.yaml');
  if (profile === null) throw new Error(JSON.stringify(mistakes));
  return { site: 'millpond', reads: { profile }, ...rest };
}

describe('types of a profile', () => {
  const CASES: readonly [type: string, words: readonly number[], value: number | undefined, more?: string][] = [
    ['int16', [0xfed4], -300],
    ['uint16', [0xfed4], 65236],
    ['int32', [0xffff, 0xfed4], -300],
    ['uint32', [0x0001, 0x0002], 65538],
    ['uint32', [0x0002, 0x0001], 65538, 'word_order: low_first'],
    ['int32', [0xd4fe, 0xffff], -300, 'word_order: low_first, byte_order: low_first'],
    ['int64', [0xffff, 0xffff, 0xffff, 0xfed4], -300],
    ['uint64', [0x0004, 0x0003, 0x0002, 0x0001], 1125912791875585],
    ['uint64', [0x0001, 0x0002, 0x0003, 0x0004], 1125912791875585, 'word_order: low_first'],
    // IEEE 754: 1.0 is 3F80 0000, −2.5 is C020 0000.
    ['float32', [0x3f80, 0x0000], 1],
    ['float32', [0x0000, 0xc020], -3, 'word_order: low_first, factor: 1.2'],
    ['float64', [0x3ff0, 0, 0, 0], 1],
    ['float32', [0x7fc0, 0x0000], undefined],
    ['float32', [0x7f80, 0x0000], undefined],
    ['uint16', [0x80], 128],
    ['uint16', [1215], 12150, 'factor: 10'],
    ['uint16', [65535], undefined, 'absent: [65535]'],
    ['int16', [0xffff], undefined, 'absent: [-1]'],
    ['uint64', [0xffff, 0xffff, 0xffff, 0xffff], undefined],
    ['uint16', [0xab05], 5, 'bits: [0, 7]'],
    ['uint16', [0xab05], 0xab, 'bits: [8, 15]'],
    ['uint32', [0x8000, 0x0000], 1, 'bits: [31, 31]'],
    ['uint16', [0x0fff], undefined, 'bits: [0, 7], absent: [255]'],
  ];
  test.each(CASES)('%s %j reads as %s W (%s)', (type, words, value, more) => {
    const device = createMemoryDevice({ 30: words });
    const config = deviceOf(
      `registers:\n  - { quantity: output_power_w, table: holding, address: 30, type: ${type}${more === undefined ? '' : `, ${more}`} }`,
    );
    expect(readingOf(pollOnce(createDeviceReader(config), device), 'u1').output_power_w).toBe(value);
  });

  test('text ends at the first zero byte, and the order of words is that of the text', () => {
    const device = createMemoryDevice({ 0: [1], 10: [0x4131, 0x2e34, 0x0000, 0x5858] });
    const config = deviceOf(
      'word_order: low_first\nregisters: [{ quantity: grid_power_w, table: holding, address: 0, type: int16 }]\nsettings: [{ key: firmware, table: holding, address: 10, type: string(4) }]',
    );
    expect(pollOnce(createDeviceReader(config), device).readings[0]?.settings).toEqual({ firmware: 'A1.4' });
  });

  test('coils and discrete inputs read as 0 and 1, and need no type', () => {
    const device = createMemoryDevice();
    device.set('coil', 7, 1);
    device.set('discrete', 3, 0);
    const config = deviceOf(`registers:
  - { quantity: mode, table: coil, address: 7, states: { 0: grid, 1: backup } }
  - { quantity: fault_code, table: discrete, address: 3 }`);
    expect(readingOf(pollOnce(createDeviceReader(config), device), 'u1')).toEqual({ mode: 'backup', fault_code: 0 });
  });

  test('a scale register is the exponent of ten, read in the same poll', () => {
    const device = createMemoryDevice({ 5: [2298, 0xffff] });
    const config = deviceOf(
      'registers: [{ quantity: grid_voltage_v, table: holding, address: 5, type: uint16, scale_register: { table: holding, address: 6, type: int16 } }]',
    );
    const reader = createDeviceReader(config);
    expect(readingOf(pollOnce(reader, device), 'u1')).toEqual({ grid_voltage_v: 229.8 });
    device.set('holding', 5, 230, 0);
    expect(readingOf(talk(reader.poll(1), device.answer), 'u1')).toEqual({ grid_voltage_v: 230 });
    device.set('holding', 5, 230, 0x8000);
    const odd = talk(reader.poll(2), device.answer);
    expect(readingOf(odd, 'u1')).toEqual({});
    expect(odd.refused).toBe(1);
  });

  test('a state in no map is absent, and counted in every poll, said once', () => {
    const device = createMemoryDevice({ 2: [9] });
    const config = deviceOf(
      'registers: [{ quantity: mode, table: holding, address: 2, type: uint16, states: { 2: grid } }]',
    );
    const reader = createDeviceReader(config);
    const first = pollOnce(reader, device);
    expect([readingOf(first, 'u1'), first.refused, first.notes.length]).toEqual([{}, 1, 1]);
    expect(first.notes[0]?.what).toContain('its raw value 9 is in no map');
    const second = talk(reader.poll(10), device.answer);
    expect([second.refused, second.notes.length]).toEqual([1, 0]);
  });
});

const THREE = deviceOf(`registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16 }
  - { quantity: output_voltage_v, table: holding, address: 32, type: uint16, factor: 0.1 }
  - { quantity: battery_soc_pct, table: input, address: 12, type: uint16, factor: 0.1 }`);

describe('a device that refuses', () => {
  test('a refused gap splits the request, once and for all', () => {
    const device = createMemoryDevice({ 30: [100], 32: [2300] });
    device.set('input', 12, 555);
    const reader = createDeviceReader(THREE);
    const first = pollOnce(reader, device);
    expect(readingOf(first, 'u1')).toEqual({ output_power_w: 100, output_voltage_v: 230, battery_soc_pct: 55.5 });
    expect([first.refused, first.notes, first.isWhole]).toEqual([0, [], true]);
    expect(device.asked).toHaveLength(4);
    talk(reader.poll(10), device.answer);
    expect(device.asked.slice(4).map(({ address, count }) => [address, count])).toEqual([
      [30, 1],
      [32, 1],
      [12, 1],
    ]);
  });

  test('a register that is refused alone is not there: absent, named once, not asked again', () => {
    const device = createMemoryDevice({ 30: [100] });
    device.set('input', 12, 555);
    const reader = createDeviceReader(THREE);
    const first = pollOnce(reader, device);
    expect(readingOf(first, 'u1')).toEqual({ output_power_w: 100, battery_soc_pct: 55.5 });
    expect(first.notes.map(({ what }) => what)).toEqual(['the device has no holding register 32']);
    device.asked.length = 0;
    const second = talk(reader.poll(10), device.answer);
    expect(second.notes).toEqual([]);
    expect(device.asked.map(({ address }) => address)).toEqual([30, 12]);
  });

  test('one bad register among many neighbours costs only itself', () => {
    const device = createMemoryDevice();
    const ids = ['grid_voltage_v', 'grid_power_w', 'output_voltage_v', 'output_power_w', 'dc_voltage_v'];
    for (const k of [0, 1, 3, 4]) device.set('holding', k, 10 + k);
    const registers = ids.map((id, k) => `  - { quantity: ${id}, table: holding, address: ${k}, type: uint16 }`);
    const read = readingOf(pollOnce(createDeviceReader(deviceOf(`registers:\n${registers.join('\n')}`)), device), 'u1');
    expect(read).toEqual({ grid_voltage_v: 10, grid_power_w: 11, output_power_w: 13, dc_voltage_v: 14 });
  });
});

describe('a device that falls silent', () => {
  test('the first silence ends the poll, and what was read is kept', () => {
    const device = createMemoryDevice({ 30: [100, 0, 2300] });
    device.quirk = ({ table }) => (table === 'input' ? SILENT : null);
    const result = pollOnce(createDeviceReader(THREE), device);
    expect(readingOf(result, 'u1')).toEqual({ output_power_w: 100, output_voltage_v: 230 });
    expect([result.isAnswering, result.isWhole]).toEqual([true, false]);
  });

  test('values of one poll group come together or not at all', () => {
    const device = createMemoryDevice({ 30: [100], 300: [5] });
    device.set('input', 1, 7);
    const config = deviceOf(`registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16, poll_group: power }
  - { quantity: grid_power_w, table: holding, address: 300, type: int16, poll_group: power }
  - { quantity: pv_power_w, table: input, address: 1, type: int16 }`);
    const reader = createDeviceReader(config);
    expect(readingOf(pollOnce(reader, device), 'u1')).toEqual({ output_power_w: 100, grid_power_w: 5, pv_power_w: 7 });
    device.quirk = ({ address }) => (address === 300 ? SILENT : null);
    expect(readingOf(talk(reader.poll(1), device.answer), 'u1')).toEqual({ pv_power_w: 7 });
  });

  test('a dead device costs one request a poll and has no reading', () => {
    const device = createMemoryDevice();
    device.quirk = () => SILENT;
    const result = pollOnce(createDeviceReader(THREE), device);
    expect(device.asked).toHaveLength(1);
    expect([result.readings, result.isAnswering]).toEqual([[], false]);
  });

  test('a place that never answers is asked last, then left alone, and hides nothing', () => {
    const device = createMemoryDevice({ 30: [100, 0, 2300] });
    device.set('input', 12, 500);
    device.quirk = ({ address, table }) => (table === 'holding' && address <= 30 ? SILENT : null);
    const reader = createDeviceReader(THREE);
    expect(readingOf(pollOnce(reader, device), 'u1')).toEqual({});
    for (let k = 1; k <= 8; k += 1) talk(reader.poll(k), device.answer);
    device.asked.length = 0;
    expect(readingOf(talk(reader.poll(9), device.answer), 'u1')).toEqual({
      output_voltage_v: 230,
      battery_soc_pct: 50,
    });
    expect(device.asked).toHaveLength(2);
  });

  test('a device that is busy loses the values of one poll only', () => {
    const device = createMemoryDevice({ 30: [100, 0, 2300] });
    device.set('input', 12, 500);
    const reader = createDeviceReader(THREE);
    device.quirk = ({ table }) => (table === 'holding' ? { ok: false, exception: 6 } : null);
    expect(readingOf(pollOnce(reader, device), 'u1')).toEqual({ battery_soc_pct: 50 });
    device.quirk = () => null;
    expect(Object.keys(readingOf(talk(reader.poll(1), device.answer), 'u1'))).toHaveLength(3);
  });
});

describe('settings of a profile', () => {
  const HOUR = 3_600_000;
  const config = deviceOf(`registers: [{ quantity: output_power_w, table: holding, address: 30, type: int16 }]
settings:
  - { key: battery_shared, table: holding, address: 120, type: uint16, states: { 0: false, 1: true } }
  - { key: output_voltage_setpoint_v, table: holding, address: 121, type: uint16, factor: 0.1 }`);
  test('are sent with the first poll, again when they change, and all of them once a day', () => {
    const device = createMemoryDevice({ 30: [1], 120: [1, 2300] });
    const reader = createDeviceReader(config);
    const settingsAt = (t: number) => talk(reader.poll(t), device.answer).readings[0]?.settings ?? null;
    talk(reader.open(), device.answer);
    expect(settingsAt(0)).toEqual({ battery_shared: true, output_voltage_setpoint_v: 230 });
    device.set('holding', 121, 2301);
    expect(settingsAt(HOUR - 1)).toBeNull();
    expect(settingsAt(HOUR)).toEqual({ output_voltage_setpoint_v: 230.1 });
    expect(settingsAt(2 * HOUR)).toBeNull();
    expect(settingsAt(24 * HOUR)).toEqual({ battery_shared: true, output_voltage_setpoint_v: 230.1 });
  });
});

describe('addPoll', () => {
  test('puts one reading a source, all at the time of the first request', () => {
    const device = createMemoryDevice({ 30: [100], 40: [5312], 120: [1] });
    const config = deviceOf(
      `registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16 }
  - { quantity: pack_voltage_v, table: holding, address: 40, type: uint16, factor: 0.01 }
settings: [{ key: battery_shared, table: holding, address: 120, type: uint16, states: { 1: true } }]`,
      { unit: 'u1', pack: 'p1' },
    );
    const builder = new BatchBuilder();
    expect(addPoll(builder, pollOnce(createDeviceReader(config), device), 1_700_000_000_000)).toBe(2);
    const batch = builder.finish();
    expect([batch.readings, batch.lines, batch.settings.length]).toEqual([2, 2, 1]);
    expect(batch.sources.map(({ kind, id }) => `${kind} ${id}`)).toEqual(['unit u1', 'pack p1']);
    expect([batch.rows[1], batch.rows[6]]).toEqual([1_700_000_000_000, 1_700_000_000_000]);
  });
  test('a device that carries another kind of source leaves the rest of the profile unread, and says so', () => {
    const device = createMemoryDevice({ 40: [5312] });
    const config = deviceOf(
      `registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int16 }
  - { quantity: pack_voltage_v, table: holding, address: 40, type: uint16, factor: 0.01 }`,
      { pack: 'p1' },
    );
    const reader = createDeviceReader(config);
    const opened = talk(reader.open(), device.answer);
    expect(opened.state === 'open' && opened.notes.map(({ what }) => what).join()).toContain('output_power_w');
    expect(readingOf(talk(reader.poll(0), device.answer), 'p1')).toEqual({ pack_voltage_v: 53.12 });
    expect(device.asked).toHaveLength(1);
  });
  test('current_sign: charge_positive turns the sign of a battery current', () => {
    const device = createMemoryDevice({ 40: [42] });
    const yaml = 'registers: [{ quantity: pack_current_a, table: holding, address: 40, type: int16, factor: 0.1 }]';
    const config = deviceOf(yaml, { pack: 'p1', current_sign: 'charge_positive' });
    expect(readingOf(pollOnce(createDeviceReader(config), device), 'p1')).toEqual({ pack_current_a: -4.2 });
  });
});
