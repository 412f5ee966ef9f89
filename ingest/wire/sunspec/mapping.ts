/** Which SunSpec point is which quantity, and what a device says differently. */
import type { DeviceConfig, MappedPoint } from '../modbus/device-config.ts';

/** In the order of preference: the first point that has ever had a value keeps its quantity. */
export type PointMap = readonly (readonly [point: string, quantity: string])[];

const INVERTER_POINTS: PointMap = [
  ['W', 'output_power_w'],
  ['VA', 'output_apparent_va'],
  ['VAr', 'output_reactive_var'],
  ['Var', 'output_reactive_var'],
  ['A', 'output_current_a'],
  ['Hz', 'output_frequency_hz'],
  ['DCV', 'dc_voltage_v'],
  ['DCA', 'dc_current_a'],
  ['TmpSnk', 'heatsink_temperature_c'],
  ['TmpCab', 'heatsink_temperature_c'],
  ['WH', 'output_energy_wh'],
  ['TotWhInj', 'output_energy_wh'],
];
export const PHASE_VOLTAGES = [
  { ids: ['PhVphA', 'VL1'], quantity: 'output_voltage_l1_v' },
  { ids: ['PhVphB', 'VL2'], quantity: 'output_voltage_l2_v' },
  { ids: ['PhVphC', 'VL3'], quantity: 'output_voltage_l3_v' },
] as const;
export const PHASE_POWERS = [
  ['WL1', 'output_power_l1_w'],
  ['WL2', 'output_power_l2_w'],
  ['WL3', 'output_power_l3_w'],
] as const;
export const MEAN_VOLTAGE = { point: 'LNV', quantity: 'output_voltage_v' } as const;
const STORAGE_POINTS: PointMap = [['SoC', 'battery_soc_pct']];
const PACK_POINTS: PointMap = [
  ['V', 'pack_voltage_v'],
  ['SoC', 'soc_pct'],
  ['SoH', 'soh_pct'],
  ['NCyc', 'cycles'],
  ['CellVMin', 'cell_voltage_min_v'],
  ['CellVMax', 'cell_voltage_max_v'],
  ['ModTmpMin', 'cell_temperature_min_c'],
  ['ModTmpMax', 'cell_temperature_max_c'],
];
const BANK_POINTS: PointMap = [
  ['V', 'bank_voltage_v'],
  ['SoC', 'bank_soc_pct'],
];
const STRING_POINTS: PointMap = [
  ['StrSoC', 'soc_pct'],
  ['StrSoH', 'soh_pct'],
  ['StrCellVMin', 'cell_voltage_min_v'],
  ['StrCellVMax', 'cell_voltage_max_v'],
  ['StrModTmpMin', 'cell_temperature_min_c'],
  ['StrModTmpMax', 'cell_temperature_max_c'],
];
/** Of a pack that is a string of model 803: its voltage is that of the whole bank. */
const STRING_BASE_POINTS: PointMap = [['V', 'pack_voltage_v']];

export const POINTS = {
  inverter: INVERTER_POINTS,
  storage: STORAGE_POINTS,
  pack: PACK_POINTS,
  bank: BANK_POINTS,
  string: STRING_POINTS,
  stringBase: STRING_BASE_POINTS,
} as const;

/** What a model tells of: an inverter and its storage, or a battery. */
export type ModelRole = 'inverter' | 'storage' | 'battery' | 'common';

export function roleOf(model: number): ModelRole | null {
  if (model === 1) return 'common';
  if (model === 701 || (model >= 101 && model <= 103) || (model >= 111 && model <= 113)) return 'inverter';
  if (model === 713) return 'storage';
  return model === 802 || model === 803 ? 'battery' : null;
}

const BATTERY_QUANTITY = /^(pack_|bank_|soc_pct$|soh_pct$|cell_|remaining_|full_|cycles$|charge_|discharge_)/;

/** `map:` of a device. */
export class PointOverrides {
  readonly #map: Readonly<Record<string, MappedPoint>>;
  readonly #claimed: ReadonlySet<string>;

  constructor({ map = {} }: Pick<DeviceConfig, 'map'>) {
    this.#map = map;
    const targets = Object.values(map).map((mapped) => (typeof mapped === 'object' ? mapped?.quantity : mapped));
    this.#claimed = new Set(targets.filter((quantity) => quantity !== undefined));
  }

  /** Whether a point of the device's choice fills a quantity, so that no default does. */
  isClaimed(quantity: string): boolean {
    return this.#claimed.has(quantity);
  }

  /**
   * Where a point goes instead of its default; null: nowhere; undefined: its default holds.
   *
   * A bare name is meant for the models of the quantity's own kind: A is a current of the inverter in 103, and of the
   * battery in 802.
   */
  of(model: number, point: string): { readonly quantity: string; readonly factor: number } | null | undefined {
    const full = `${model}.${point}`;
    const isFull = Object.hasOwn(this.#map, full);
    const mapped = isFull ? this.#map[full] : Object.hasOwn(this.#map, point) ? this.#map[point] : undefined;
    if (mapped === undefined || mapped === null) return mapped;
    const { quantity, factor = 1 } = typeof mapped === 'string' ? { quantity: mapped } : mapped;
    const isBattery = roleOf(model) === 'battery';
    if (!isFull && BATTERY_QUANTITY.test(quantity) !== isBattery) return undefined;
    return { quantity, factor };
  }

  /** The points of a model that go elsewhere than by default. */
  pointsOf(model: number, names: Iterable<string>): readonly string[] {
    return [...names].filter((name) => this.of(model, name) != null);
  }
}
