import { describe, expect, test } from 'vitest';
import type { DeviceConfig } from '../../../../ingest/wire/modbus/device-config.ts';
import { createDeviceReader } from '../../../../ingest/wire/modbus/device-reader.ts';
import { type MemoryDevice, pollOnce, readingOf, talk } from '../modbus/_device.ts';
import { createSunspecDevice, type ModelPlan } from './_chain.ts';

const config = (rest: Partial<DeviceConfig> = { unit: 'u1' }): DeviceConfig => ({
  site: 'millpond',
  reads: 'sunspec',
  ...rest,
});
const readerOf = (rest?: Partial<DeviceConfig>) => createDeviceReader(config(rest));
const unitOf = (device: MemoryDevice, rest: Partial<DeviceConfig> = { unit: 'u1' }) =>
  readingOf(pollOnce(readerOf(rest), device), 'u1');
const SILENT = { ok: false, exception: null } as const;

const COMMON: ModelPlan = { model: 1, points: { Vr: '1.04', SN: 'A-1042' } };
const INVERTER: ModelPlan = {
  model: 103,
  points: {
    ...{ A: 53, A_SF: -1, PhVphA: 2298, PhVphB: 2302, PhVphC: 2300, V_SF: -1, W: -1215, W_SF: 0, Hz: 4998, Hz_SF: -2 },
    ...{ VA: 123, VA_SF: 1, VAr: -30, VAr_SF: 0, WH: 4_000_000_000, WH_SF: 0, DCA: 250, DCA_SF: -1, DCV: 532 },
    ...{ DCV_SF: -1, TmpCab: 31, TmpSnk: 45, Tmp_SF: 0, St: 4 },
  },
};
const INVERTER_VALUES = {
  output_current_a: 5.3,
  output_voltage_v: 230,
  output_voltage_l1_v: 229.8,
  output_voltage_l2_v: 230.2,
  output_voltage_l3_v: 230,
  output_power_w: -1215,
  output_frequency_hz: 49.98,
  output_apparent_va: 1230,
  output_reactive_var: -30,
  output_energy_wh: 4_000_000_000,
  dc_current_a: 25,
  dc_voltage_v: 53.2,
  heatsink_temperature_c: 45,
};
const DER: ModelPlan = {
  model: 701,
  points: {
    ...{ ACType: 0, St: 1, InvSt: 3, DERMode: 2, W: 1215, W_SF: 0, VA: 1230, VA_SF: 0, Var: 30, Var_SF: 0, A: 53 },
    ...{ A_SF: -1, LNV: 2298, V_SF: -1, VL1: 2298, Hz: 49_980, Hz_SF: -3, TotWhInj: 12_345n, TotWh_SF: 1, Tmp_SF: 0 },
    ...{ TmpCab: 31 },
  },
};
const DER_VALUES = {
  mode: 'backup',
  output_power_w: 1215,
  output_apparent_va: 1230,
  output_reactive_var: 30,
  output_current_a: 5.3,
  output_voltage_v: 229.8,
  output_frequency_hz: 49.98,
  output_energy_wh: 123_450,
  heatsink_temperature_c: 31,
};
const BATTERY: ModelPlan = {
  model: 802,
  points: {
    ...{
      SoC: 715,
      SoC_SF: -1,
      SoH: 99,
      SoH_SF: 0,
      NCyc: 70_000,
      ChaSt: 4,
      State: 3,
      V: 5324,
      V_SF: -2,
      A: 42,
      A_SF: -1,
    },
    ...{ CellVMin: 3301, CellVMax: 3342, CellV_SF: -3 },
  },
};

describe('discovery', () => {
  test.each([40_000, 50_000, 0])('finds the chain at %i', (base) => {
    expect(unitOf(createSunspecDevice([COMMON, INVERTER], { base }))).toEqual(INVERTER_VALUES);
  });
  test('finds the chain at a base that was given', () => {
    expect(unitOf(createSunspecDevice([COMMON, INVERTER], { base: 4000 }), { unit: 'u1', base: 4000 })).toEqual(
      INVERTER_VALUES,
    );
  });
  test('takes model 1 of 65 and of 66 registers, and passes over models that it does not know', () => {
    for (const length of [65, 66]) {
      const device = createSunspecDevice([
        { ...COMMON, length },
        { model: 64_001, length: 300 },
        INVERTER,
        { model: 120, length: 26 },
      ]);
      expect(unitOf(device)).toEqual(INVERTER_VALUES);
    }
  });
  test('ends at the end model, at a refusal, and where nothing ever answers', () => {
    const noEnd = createSunspecDevice([COMMON, INVERTER], { hasEnd: false });
    expect(unitOf(noEnd)).toEqual(INVERTER_VALUES);
    const mute = createSunspecDevice([COMMON, INVERTER], { hasEnd: false });
    mute.quirk = ({ address }) => (address > 40_000 + 2 + 68 + 52 - 1 ? SILENT : null);
    const reader = readerOf();
    expect(talk(reader.open(), mute.answer).state).toBe('silent');
    expect(readingOf(pollOnce(reader, mute), 'u1')).toEqual(INVERTER_VALUES);
  });
  test('a base to which the device never answers hides no other', () => {
    const device = createSunspecDevice([COMMON, INVERTER], { base: 0 });
    device.quirk = ({ address }) => (address >= 40_000 ? SILENT : null);
    const reader = readerOf();
    expect(talk(reader.open(), device.answer).state).toBe('silent');
    expect(talk(reader.open(), device.answer).state).toBe('silent');
    expect(talk(reader.open(), device.answer).state).toBe('open');
  });
  test('says what is there where nothing is of use', () => {
    expect(talk(readerOf().open(), createSunspecDevice([COMMON, BATTERY]).answer)).toMatchObject({
      state: 'refused',
      fault: { what: 'the device has nothing for u1: its models are 1, 802' },
    });
    const empty = createSunspecDevice([COMMON], { base: 100 });
    expect(talk(readerOf().open(), empty.answer)).toMatchObject({
      state: 'refused',
      fault: { what: 'the device answers, but has no SunSpec mark at 40000, 50000, 0' },
    });
  });
  test('sends firmware and serial number as settings of the unit', () => {
    const result = pollOnce(readerOf(), createSunspecDevice([COMMON, INVERTER]));
    expect(result.readings[0]?.settings).toEqual({ firmware: '1.04', serial: 'A-1042' });
  });
});

describe('inverter models', () => {
  test('a float model reads as its integer twin', () => {
    const { points = {} } = INVERTER;
    const exponents: Record<string, number> = {
      A: -1,
      PhVphA: -1,
      PhVphB: -1,
      PhVphC: -1,
      Hz: -2,
      VA: 1,
      DCA: -1,
      DCV: -1,
    };
    const floats = Object.entries(points).filter(([name]) => !name.endsWith('_SF'));
    const scaled = floats.map(([name, raw]) => [name, Number(raw) * 10 ** (exponents[name] ?? 0)]);
    const device = createSunspecDevice([COMMON, { model: 113, points: { ...Object.fromEntries(scaled), St: 4 } }]);
    expect(unitOf(device)).toEqual(INVERTER_VALUES);
  });
  test('701 is read in several requests of at most 125 registers, and decides between grid and backup', () => {
    const device = createSunspecDevice([COMMON, DER]);
    expect(unitOf(device)).toEqual(DER_VALUES);
    for (const { count } of device.asked) expect(count).toBeLessThanOrEqual(125);
  });
  test('701 goes before an older model in the same device', () => {
    expect(
      unitOf(createSunspecDevice([COMMON, { ...INVERTER, points: { ...INVERTER.points, St: 8 } }, DER])),
    ).toMatchObject(DER_VALUES);
  });
  test('phases of 701 come with their own ids, where there is more than one', () => {
    const device = createSunspecDevice([
      COMMON,
      {
        model: 701,
        points: {
          ACType: 2,
          V_SF: -1,
          W_SF: 0,
          W: 60,
          LNV: 2300,
          VL1: 2290,
          VL2: 2300,
          VL3: 2310,
          WL1: 10,
          WL2: 20,
          WL3: 30,
        },
      },
    ]);
    expect(unitOf(device)).toEqual({
      ...{
        output_power_w: 60,
        output_power_l1_w: 10,
        output_power_l2_w: 20,
        output_power_l3_w: 30,
        output_voltage_v: 230,
      },
      ...{ output_voltage_l1_v: 229, output_voltage_l2_v: 230, output_voltage_l3_v: 231 },
    });
  });
  const MODES = `101 St=1 off, 101 St=2 off, 101 St=3 starting, 101 St=4 -, 101 St=5 -, 101 St=6 -, 101 St=7 fault,
    101 St=8 standby, 701 InvSt=0 off, 701 InvSt=1 off, 701 InvSt=2 starting, 701 InvSt=3 -, 701 InvSt=5 -,
    701 InvSt=6 fault, 701 InvSt=7 standby, 701 InvSt=3 DERMode=1 grid, 701 InvSt=4 DERMode=2 backup,
    701 InvSt=3 DERMode=6 backup, 701 InvSt=3 DERMode=3 -, 701 InvSt=7 DERMode=1 standby, 701 St=1 DERMode=1 grid,
    701 St=0 DERMode=1 off`
    .split(/,\s+/)
    .map((line) => {
      const [model = '', ...rest] = line.split(' ');
      const word = rest.pop();
      const points = Object.fromEntries(rest.map((pair) => [pair.split('=')[0], Number(pair.split('=')[1])]));
      return { model: Number(model), points, mode: word === '-' ? undefined : word };
    });
  test.each(MODES)('model $model with $points is $mode', ({ model, points, mode }) => {
    const all = { W: 1, W_SF: 0, ...points };
    expect(unitOf(createSunspecDevice([COMMON, { model, points: all }])).mode).toBe(mode);
  });
  test('a state that the standard does not know is absent and counted', () => {
    const result = pollOnce(readerOf(), createSunspecDevice([COMMON, { model: 101, points: { St: 42 } }]));
    expect([readingOf(result, 'u1'), result.refused]).toEqual([{}, 1]);
  });
  test('713 gives the charge that the unit believes', () => {
    const device = createSunspecDevice([COMMON, DER, { model: 713, points: { SoC: 715, Pct_SF: -1 } }]);
    expect(unitOf(device).battery_soc_pct).toBe(71.5);
  });
});

describe('scale factors and sentinels', () => {
  test('a device with nothing implemented has a reading without values, never a zero', () => {
    const result = pollOnce(readerOf(), createSunspecDevice([{ model: 1 }, { model: 103 }]));
    expect(result.readings).toHaveLength(1);
    expect(readingOf(result, 'u1')).toEqual({});
    expect(result.refused).toBe(0);
  });
  test('a value whose scale factor is not implemented, or none that can be, is absent', () => {
    expect(unitOf(createSunspecDevice([COMMON, { model: 103, points: { W: 100 } }]))).toEqual({});
    const odd = pollOnce(readerOf(), createSunspecDevice([COMMON, { model: 103, points: { W: 100, W_SF: 11 } }]));
    expect([readingOf(odd, 'u1'), odd.refused]).toEqual([{}, 1]);
  });
  test('a scale factor that changes is read with the value', () => {
    const device = createSunspecDevice([COMMON, INVERTER]);
    const reader = readerOf();
    pollOnce(reader, device);
    device.set('holding', 40_000 + 2 + 68 + 14, 122, 1);
    expect(readingOf(talk(reader.poll(1), device.answer), 'u1').output_power_w).toBe(1220);
  });
  test('a counter that wraps is stored as sent, and a counter at 0 is not implemented', () => {
    const device = createSunspecDevice([COMMON, INVERTER]);
    const reader = readerOf();
    const energies = [
      [0xffff, 0xffff],
      [0, 0],
      [0, 5],
    ].map((words, k) => {
      device.set('holding', 40_000 + 2 + 68 + 24, ...words);
      return readingOf(k === 0 ? pollOnce(reader, device) : talk(reader.poll(k), device.answer), 'u1').output_energy_wh;
    });
    expect(energies).toEqual([4_294_967_295, undefined, 5]);
  });
  test('a temperature does not jump to another sensor while its own is absent', () => {
    const device = createSunspecDevice([COMMON, INVERTER]);
    const reader = readerOf();
    expect(readingOf(pollOnce(reader, device), 'u1').heatsink_temperature_c).toBe(45);
    device.set('holding', 40_000 + 2 + 68 + 34, 0x8000);
    expect(readingOf(talk(reader.poll(1), device.answer), 'u1').heatsink_temperature_c).toBeUndefined();
  });
  test('points beyond the length that a device gives a model are absent', () => {
    const device = createSunspecDevice([COMMON, { ...INVERTER, length: 35 }, BATTERY]);
    const { mode, ...read } = unitOf(device);
    // Tmp_SF, at 37, is the first that is cut off: without it the temperature has no value.
    const { heatsink_temperature_c, ...values } = INVERTER_VALUES;
    expect([read, mode, heatsink_temperature_c]).toEqual([values, undefined, 45]);
  });
  test('registers that a device refuses within a model are absent, and the rest is read', () => {
    const device = createSunspecDevice([COMMON, INVERTER]);
    device.words.delete(`holding ${40_000 + 2 + 68 + 24}`);
    const { output_energy_wh, ...values } = INVERTER_VALUES;
    expect([unitOf(device), output_energy_wh]).toEqual([values, 4_000_000_000]);
  });
});

describe('batteries', () => {
  const PACK = {
    ...{ pack_voltage_v: 53.24, soc_pct: 71.5, soh_pct: 99, cycles: 70_000, pack_state: 'charging' },
    ...{ cell_voltage_min_v: 3.301, cell_voltage_max_v: 3.342 },
  };
  const packOf = (device: MemoryDevice, rest: Partial<DeviceConfig>) => pollOnce(readerOf(rest), device).readings;
  test('without a current sign the current is kept beside the reading, and pack_current_a is absent', () => {
    const result = pollOnce(readerOf({ pack: 'p1' }), createSunspecDevice([COMMON, BATTERY]));
    expect(readingOf(result, 'p1')).toEqual(PACK);
    expect(result.readings[0]?.extras).toEqual({ A: 4.2 });
  });
  test.each([
    ['discharge_positive', 4.2],
    ['charge_positive', -4.2],
  ] as const)('with %s the current is %d A', (current_sign, amps) => {
    const result = pollOnce(readerOf({ pack: 'p1', current_sign }), createSunspecDevice([COMMON, BATTERY]));
    expect(readingOf(result, 'p1')).toEqual({ ...PACK, pack_current_a: amps });
    expect(result.readings[0]?.extras).toBeNull();
  });
  const STATES = [
    ...[1, 2, 3, 4, 5, 6, 7].map((ChaSt, k) => ({
      points: { ChaSt },
      word: ['off', 'idle', 'discharging', 'charging', 'idle', 'idle', undefined][k],
    })),
    { points: { ChaSt: 4, State: 99 }, word: 'fault' },
    { points: { ChaSt: 12 }, word: undefined },
  ];
  test.each(STATES)('802 with $points is $word', ({ points, word }) => {
    const result = pollOnce(readerOf({ pack: 'p1' }), createSunspecDevice([COMMON, { model: 802, points }]));
    expect(readingOf(result, 'p1').pack_state).toBe(word);
  });
  test('803 gives the cell temperatures', () => {
    const bank: ModelPlan = { model: 803, points: { NStr: 0, ModTmpMin: 18, ModTmpMax: 24, ModTmp_SF: 0 } };
    const result = pollOnce(readerOf({ pack: 'p1' }), createSunspecDevice([COMMON, BATTERY, bank]));
    expect(readingOf(result, 'p1')).toEqual({ ...PACK, cell_temperature_min_c: 18, cell_temperature_max_c: 24 });
  });
  const STRINGS: ModelPlan = {
    model: 803,
    groups: 2,
    points: {
      ...{ NStr: 2, ModTmpMin: 1, ModTmp_SF: 0, SoC_SF: -1, SoH_SF: 0, A_SF: -1, CellV_SF: -3 },
      ...{ '1.StrSoC': 701, '1.StrSoH': 98, '1.StrA': 21, '1.StrCellVMin': 3301, '1.StrCellVMax': 3342 },
      ...{ '1.StrModTmpMin': 17, '1.StrModTmpMax': 23, '2.StrSoC': 655, '2.StrA': -7 },
    },
  };
  test('packs that are strings have their own values, and the voltage of the whole', () => {
    const device = createSunspecDevice([COMMON, BATTERY, STRINGS]);
    const rest = { packs: ['p1', 'p2'], strings: [2, 1], current_sign: 'discharge_positive' } as const;
    const result = pollOnce(readerOf(rest), device);
    expect(readingOf(result, 'p1')).toEqual({ pack_voltage_v: 53.24, soc_pct: 65.5, pack_current_a: -0.7 });
    expect(readingOf(result, 'p2')).toEqual({
      ...{ pack_voltage_v: 53.24, soc_pct: 70.1, soh_pct: 98, pack_current_a: 2.1, cell_voltage_min_v: 3.301 },
      ...{ cell_voltage_max_v: 3.342, cell_temperature_min_c: 17, cell_temperature_max_c: 23 },
    });
  });
  test('a string that is not there gives its pack no reading, and is named', () => {
    const result = pollOnce(
      readerOf({ packs: ['p1', 'p2'], strings: [1, 3] }),
      createSunspecDevice([COMMON, BATTERY, STRINGS]),
    );
    expect(result.readings.map(({ source }) => source.id)).toEqual(['p1']);
    expect(result.notes.map(({ what }) => what)).toEqual(['string 3 of p2 is not there: model 803 has 2 strings']);
    expect(result.readings[0]?.extras).toEqual({ StrA: 2.1 });
  });
  test('packs without strings are the batteries of the chain, one after the other', () => {
    const second: ModelPlan = { model: 802, points: { SoC: 30, SoC_SF: 0 } };
    const readings = packOf(createSunspecDevice([COMMON, BATTERY, second]), { packs: ['p1', 'p2'] });
    expect(readingOf({ readings } as never, 'p2')).toEqual({ soc_pct: 30 });
    expect(readingOf({ readings } as never, 'p1')).toEqual(PACK);
  });
  test('one device carries a unit and a pack', () => {
    const result = pollOnce(readerOf({ unit: 'u1', pack: 'p1' }), createSunspecDevice([COMMON, INVERTER, BATTERY]));
    expect(readingOf(result, 'u1')).toEqual(INVERTER_VALUES);
    expect(readingOf(result, 'p1')).toEqual(PACK);
  });
});

describe('map', () => {
  test('sends a point elsewhere than by default, and none to its default', () => {
    const { output_power_w, ...rest } = INVERTER_VALUES;
    const device = createSunspecDevice([COMMON, INVERTER]);
    expect(unitOf(device, { unit: 'u1', map: { W: 'grid_power_w' } })).toEqual({
      ...rest,
      grid_power_w: output_power_w,
    });
  });
  test('takes a factor, a model, and null for nowhere', () => {
    const device = createSunspecDevice([
      COMMON,
      { ...INVERTER, points: { ...INVERTER.points, DCW: 900, DCW_SF: 0 } },
      DER,
    ]);
    const map = { '103.W': { quantity: 'grid_power_w', factor: -1 }, DCW: 'pv_power_w', TmpCab: null };
    const read = unitOf(device, { unit: 'u1', map });
    expect(read).toMatchObject({
      grid_power_w: 1215,
      pv_power_w: 900,
      output_power_w: 1215,
      heatsink_temperature_c: 45,
    });
  });
});

describe('a device that changes', () => {
  test('a model that reads as another one is not taken, and the device is opened again', () => {
    const device = createSunspecDevice([COMMON, INVERTER]);
    const reader = readerOf();
    pollOnce(reader, device);
    device.set('holding', 40_000 + 2 + 68, 101);
    const changed = talk(reader.poll(1), device.answer);
    expect([changed.mustOpen, changed.readings, changed.refused]).toEqual([true, [], 1]);
    expect(readingOf(pollOnce(reader, device), 'u1').output_power_w).toBe(-1215);
  });
  test('a silence in one request of a model drops the whole model', () => {
    const device = createSunspecDevice([COMMON, DER, { model: 713, points: { SoC: 50, Pct_SF: 0 } }]);
    const reader = readerOf();
    // This one takes 60 registers at most, so that model 701 comes in several requests.
    device.quirk = ({ count }) => (count > 60 ? { ok: false, exception: 3 } : null);
    expect(readingOf(pollOnce(reader, device), 'u1')).toEqual({ ...DER_VALUES, battery_soc_pct: 50 });
    device.quirk = ({ address }) => (address > 40_000 + 70 + 90 && address < 40_000 + 70 + 155 ? SILENT : null);
    // The silence ends the first poll; from the next on that request is asked last.
    const after = [1, 2].map((t) => readingOf(talk(reader.poll(t), device.answer), 'u1'));
    expect(after).toEqual([{}, { battery_soc_pct: 50 }]);
  });
  test('polling before opening is a mistake of ours', () => {
    expect(() => readerOf().poll(0).next()).toThrow('open it first');
  });
});
