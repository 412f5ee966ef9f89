/**
 * The one list of what Kilter can store. Columns, headers, labels, axes and decoders derive from it.
 * The unit is the last word of an id; the compiler refuses an id without a known unit.
 */
export const UNIT_SYMBOLS = {
  v: 'V',
  a: 'A',
  w: 'W',
  va: 'VA',
  var: 'var',
  hz: 'Hz',
  pct: '%',
  c: '°C',
  wh: 'Wh',
  ah: 'Ah',
} as const;
export type UnitSuffix = keyof typeof UNIT_SYMBOLS;

export type Axis =
  | 'voltage'
  | 'current'
  | 'power'
  | 'frequency'
  | 'charge'
  | 'temperature'
  | 'energy'
  | 'capacity'
  | 'state';

interface Quantity {
  /** Decimal places kept. Stored integer = round(value × 10^decimals). */
  readonly decimals: 0 | 1 | 2 | 3;
  /** Sentence case, no unit: the unit comes from the id. */
  readonly label: string;
  /** Which charts' y axis it shares. */
  readonly axis: Axis;
  /** What a positive value means, where the sign carries meaning. */
  readonly positive?: string;
}
type QuantityTable = { readonly [Id in `${string}_${UnitSuffix}`]?: Quantity };

interface State {
  readonly label: string;
  /** The words of an enumeration, in the order of their stored integers; absent for a plain count. */
  readonly words?: readonly string[];
}
type StateTable = { readonly [id: string]: State };

export const UNIT_QUANTITIES = {
  grid_voltage_v: { decimals: 1, label: 'Grid voltage', axis: 'voltage' },
  grid_frequency_hz: { decimals: 2, label: 'Grid frequency', axis: 'frequency' },
  grid_power_w: { decimals: 0, label: 'Grid power', axis: 'power', positive: 'taken from the grid' },
  output_voltage_v: { decimals: 1, label: 'Output voltage', axis: 'voltage' },
  output_frequency_hz: { decimals: 2, label: 'Output frequency', axis: 'frequency' },
  output_current_a: { decimals: 1, label: 'Output current', axis: 'current' },
  output_power_w: { decimals: 0, label: 'Output power', axis: 'power', positive: 'delivered to the backup output' },
  output_apparent_va: { decimals: 0, label: 'Output apparent power', axis: 'power' },
  output_reactive_var: { decimals: 0, label: 'Output reactive power', axis: 'power', positive: 'inductive load' },
  output_power_l1_w: {
    decimals: 0,
    label: 'Output power L1',
    axis: 'power',
    positive: 'delivered to the backup output',
  },
  output_power_l2_w: {
    decimals: 0,
    label: 'Output power L2',
    axis: 'power',
    positive: 'delivered to the backup output',
  },
  output_power_l3_w: {
    decimals: 0,
    label: 'Output power L3',
    axis: 'power',
    positive: 'delivered to the backup output',
  },
  output_voltage_l1_v: { decimals: 1, label: 'Output voltage L1', axis: 'voltage' },
  output_voltage_l2_v: { decimals: 1, label: 'Output voltage L2', axis: 'voltage' },
  output_voltage_l3_v: { decimals: 1, label: 'Output voltage L3', axis: 'voltage' },
  grid_voltage_l1_v: { decimals: 1, label: 'Grid voltage L1', axis: 'voltage' },
  grid_voltage_l2_v: { decimals: 1, label: 'Grid voltage L2', axis: 'voltage' },
  grid_voltage_l3_v: { decimals: 1, label: 'Grid voltage L3', axis: 'voltage' },
  load_pct: { decimals: 1, label: 'Load', axis: 'charge' },
  pv_power_w: { decimals: 0, label: 'PV power', axis: 'power', positive: 'from PV on this unit' },
  dc_voltage_v: { decimals: 1, label: 'Battery voltage at the unit', axis: 'voltage' },
  dc_current_a: { decimals: 1, label: 'Battery current', axis: 'current', positive: 'discharging through this unit' },
  battery_soc_pct: { decimals: 1, label: 'State of charge seen by the unit', axis: 'charge' },
  ct_power_w: { decimals: 0, label: 'Supply point power', axis: 'power', positive: 'taken from the grid' },
  heatsink_temperature_c: { decimals: 1, label: 'Heatsink temperature', axis: 'temperature' },
  grid_import_wh: { decimals: 0, label: 'Grid import', axis: 'energy' },
  output_energy_wh: { decimals: 0, label: 'Output energy', axis: 'energy' },
  pv_energy_wh: { decimals: 0, label: 'PV energy', axis: 'energy' },
} as const satisfies QuantityTable;

export const MODES = ['off', 'standby', 'starting', 'grid', 'backup', 'generator', 'fault'] as const;

/** States and counts have no unit, so they stand beside the quantities. */
export const UNIT_STATES = {
  mode: { label: 'Mode', words: MODES },
  fault_code: { label: 'Fault code' },
} as const satisfies StateTable;

export const PACK_QUANTITIES = {
  pack_voltage_v: { decimals: 2, label: 'Pack voltage', axis: 'voltage' },
  pack_current_a: { decimals: 1, label: 'Pack current', axis: 'current', positive: 'discharging' },
  soc_pct: { decimals: 1, label: 'State of charge', axis: 'charge' },
  soh_pct: { decimals: 1, label: 'State of health', axis: 'charge' },
  cell_voltage_min_v: { decimals: 3, label: 'Lowest cell voltage', axis: 'voltage' },
  cell_voltage_max_v: { decimals: 3, label: 'Highest cell voltage', axis: 'voltage' },
  cell_temperature_min_c: { decimals: 1, label: 'Lowest cell temperature', axis: 'temperature' },
  cell_temperature_max_c: { decimals: 1, label: 'Highest cell temperature', axis: 'temperature' },
  remaining_ah: { decimals: 1, label: 'Remaining capacity', axis: 'capacity' },
  full_ah: { decimals: 1, label: 'Full capacity', axis: 'capacity' },
} as const satisfies QuantityTable;

export const PACK_STATE_WORDS = ['off', 'idle', 'charging', 'discharging', 'fault'] as const;

export const PACK_STATES = {
  cycles: { label: 'Cycles' },
  pack_state: { label: 'Pack state', words: PACK_STATE_WORDS },
} as const satisfies StateTable;

export const BANK_QUANTITIES = {
  bank_voltage_v: { decimals: 2, label: 'Bank voltage', axis: 'voltage' },
  bank_current_a: { decimals: 1, label: 'Bank current', axis: 'current', positive: 'discharging' },
  bank_soc_pct: { decimals: 1, label: 'Bank state of charge', axis: 'charge' },
  charge_limit_a: { decimals: 1, label: 'Charge limit', axis: 'current' },
  discharge_limit_a: { decimals: 1, label: 'Discharge limit', axis: 'current' },
  charge_voltage_limit_v: { decimals: 2, label: 'Charge voltage limit', axis: 'voltage' },
} as const satisfies QuantityTable;

export const METER_QUANTITIES = {
  meter_power_w: { decimals: 0, label: 'Meter power', axis: 'power', positive: "flowing toward the site's loads" },
  meter_voltage_v: { decimals: 1, label: 'Meter voltage', axis: 'voltage' },
  meter_frequency_hz: { decimals: 2, label: 'Meter frequency', axis: 'frequency' },
  meter_energy_wh: { decimals: 0, label: 'Meter energy', axis: 'energy' },
} as const satisfies QuantityTable;

export type UnitQuantity = keyof typeof UNIT_QUANTITIES | keyof typeof UNIT_STATES;
export type PackQuantity = keyof typeof PACK_QUANTITIES | keyof typeof PACK_STATES;
export type BankQuantity = keyof typeof BANK_QUANTITIES;
export type MeterQuantity = keyof typeof METER_QUANTITIES;
export type QuantityId = UnitQuantity | PackQuantity | BankQuantity | MeterQuantity;

/** The four things a reading can come from. */
export const SOURCE_KINDS = ['unit', 'pack', 'bank', 'meter'] as const;
export type SourceKind = (typeof SOURCE_KINDS)[number];

/** One column of a source kind, as the store, the decoders and the screens see it. */
export interface Column {
  readonly id: QuantityId;
  /** Place in the list of its kind: stable, because columns are only ever appended. */
  readonly index: number;
  readonly decimals: number;
  readonly label: string;
  readonly axis: Axis;
  readonly positive: string | null;
  /** V, A, W …; empty for states and counts. */
  readonly symbol: string;
  /** The words of an enumeration, null for a number. */
  readonly words: readonly string[] | null;
}

function columnsOf(quantities: QuantityTable, states: StateTable): readonly Column[] {
  const numbers = Object.entries(quantities).map(([id, q]) => {
    const suffix = id.slice(id.lastIndexOf('_') + 1) as UnitSuffix;
    const { decimals, label, axis, positive = null } = q as Quantity;
    return { id, decimals, label, axis, positive, symbol: UNIT_SYMBOLS[suffix] as string, words: null };
  });
  const counts = Object.entries(states).map(([id, s]) => ({
    id,
    decimals: 0,
    label: s.label,
    axis: 'state' as const,
    positive: null,
    symbol: '',
    words: s.words ?? null,
  }));
  return [...numbers, ...counts].map((column, index) => ({ ...column, id: column.id as QuantityId, index }));
}

/** The columns of each source kind, quantities first, then states and counts. */
export const COLUMNS: { readonly [Kind in SourceKind]: readonly Column[] } = {
  unit: columnsOf(UNIT_QUANTITIES, UNIT_STATES),
  pack: columnsOf(PACK_QUANTITIES, PACK_STATES),
  bank: columnsOf(BANK_QUANTITIES, {}),
  meter: columnsOf(METER_QUANTITIES, {}),
};

const BY_ID: { readonly [Kind in SourceKind]: ReadonlyMap<string, Column> } = {
  unit: new Map(COLUMNS.unit.map((c) => [c.id, c])),
  pack: new Map(COLUMNS.pack.map((c) => [c.id, c])),
  bank: new Map(COLUMNS.bank.map((c) => [c.id, c])),
  meter: new Map(COLUMNS.meter.map((c) => [c.id, c])),
};

/** The column of that id in a source kind, or undefined where the kind has no such quantity. */
export function columnOf(kind: SourceKind, id: string): Column | undefined {
  return BY_ID[kind].get(id);
}

const POWER_OF_TEN = [1, 10, 100, 1000] as const;

/** 229.8 V at one decimal → 2298. Minus zero becomes zero, so that equal readings are equal bytes. */
export function toStored(decimals: number, value: number): number {
  return Math.round(value * (POWER_OF_TEN[decimals] ?? 1)) + 0;
}

/** Divides: 3 / 10 is 0.3, but 3 × 0.1 is 0.30000000000000004, which would reach a CSV. */
export function fromStored(decimals: number, stored: number): number {
  return stored / (POWER_OF_TEN[decimals] ?? 1);
}

/** The largest stored integer that is taken: beyond it a double no longer holds every integer. */
export const STORED_MAX = Number.MAX_SAFE_INTEGER;
