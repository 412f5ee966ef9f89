/** What each source measures at an instant, with its noise: values in the order of the vocabulary's columns. */
import {
  type BankQuantity,
  COLUMNS,
  columnOf,
  type MeterQuantity,
  MODES,
  type PackQuantity,
  type QuantityId,
  type SourceKind,
  type UnitQuantity,
} from '../vocabulary/quantities.ts';
import { bankGaugePct, CELLS, CHARGE_LIMIT_V, onlineAh } from './battery.ts';
import { drawNoise } from './prng.ts';
import { outageNear, type SiteState } from './site-state.ts';

function place(kind: SourceKind, id: string): number {
  const column = columnOf(kind, id);
  if (column === undefined) throw new RangeError(`Cannot measure ${id}: a ${kind} has no such quantity`);
  return column.index;
}
const unitPlace = (id: UnitQuantity) => place('unit', id);
const packPlace = (id: PackQuantity) => place('pack', id);
const bankPlace = (id: BankQuantity) => place('bank', id);
const meterPlace = (id: MeterQuantity) => place('meter', id);

const GRID_VOLTAGE = unitPlace('grid_voltage_v');
const GRID_FREQUENCY = unitPlace('grid_frequency_hz');
const GRID_POWER = unitPlace('grid_power_w');
const OUTPUT_VOLTAGE = unitPlace('output_voltage_v');
const OUTPUT_FREQUENCY = unitPlace('output_frequency_hz');
const OUTPUT_CURRENT = unitPlace('output_current_a');
const OUTPUT_POWER = unitPlace('output_power_w');
const OUTPUT_APPARENT = unitPlace('output_apparent_va');
const OUTPUT_REACTIVE = unitPlace('output_reactive_var');
const LOAD = unitPlace('load_pct');
const PV_POWER = unitPlace('pv_power_w');
const DC_VOLTAGE = unitPlace('dc_voltage_v');
const DC_CURRENT = unitPlace('dc_current_a');
const BATTERY_SOC = unitPlace('battery_soc_pct');
const CT_POWER = unitPlace('ct_power_w');
const HEATSINK = unitPlace('heatsink_temperature_c');
const MODE = unitPlace('mode');
const FAULT_CODE = unitPlace('fault_code');
const GRID_IMPORT = unitPlace('grid_import_wh');
const OUTPUT_ENERGY = unitPlace('output_energy_wh');
const PV_ENERGY = unitPlace('pv_energy_wh');

const UNIT_PLACES = [
  GRID_VOLTAGE,
  GRID_FREQUENCY,
  GRID_POWER,
  OUTPUT_VOLTAGE,
  OUTPUT_FREQUENCY,
  OUTPUT_CURRENT,
  OUTPUT_POWER,
  OUTPUT_APPARENT,
  OUTPUT_REACTIVE,
  LOAD,
  PV_POWER,
  DC_VOLTAGE,
  DC_CURRENT,
  BATTERY_SOC,
  CT_POWER,
  HEATSINK,
  GRID_IMPORT,
  OUTPUT_ENERGY,
  PV_ENERGY,
  MODE,
  FAULT_CODE,
];

const MODE_GRID = MODES.indexOf('grid');
const MODE_BACKUP = MODES.indexOf('backup');
const MODE_FAULT = MODES.indexOf('fault');

/** The maker's own number for an overload trip. */
const TRIP_CODE = 31;
/** From a unit's terminals to the busbar, Ω. */
const BATTERY_CABLE_OHM = 0.0008;

/** What the sources of the demo send, of all that the vocabulary knows. */
export function sentQuantities(kind: SourceKind): QuantityId[] {
  const places: Readonly<Record<SourceKind, readonly number[]>> = {
    unit: UNIT_PLACES,
    pack: COLUMNS.pack.map((column) => column.index),
    bank: COLUMNS.bank.map((column) => column.index),
    meter: COLUMNS.meter.map((column) => column.index),
  };
  return places[kind].map((index) => COLUMNS[kind][index]!.id);
}

export function createValues(kind: SourceKind): Float64Array {
  return new Float64Array(COLUMNS[kind].length).fill(Number.NaN);
}

/** Whether a unit calls itself on its own at tMs: units follow the outage each with its own delay. */
function isOnBackup(state: SiteState, i: number, tMs: number): boolean {
  const outage = outageNear(state);
  if (outage === null) return false;
  const offsetMs = outage.offsetsMs[i]!;
  // The last to leave is the first back, so that the last return is at `end`.
  return tMs >= outage.start + offsetMs && tMs < outage.end - offsetMs;
}

function measureGrid(state: SiteState, i: number, tMs: number, values: Float64Array): void {
  const { instant, noise, plan } = state;
  const outage = outageNear(state);
  const isGone = outage !== null && tMs >= outage.start && tMs < outage.gridBack;
  const atInputV = instant.onGrid ? instant.unitGridV[i]! : instant.gridVoltageV;
  values[GRID_VOLTAGE] = isGone ? Math.abs(0.3 * drawNoise(noise)) : atInputV + 0.15 * drawNoise(noise);
  values[GRID_FREQUENCY] = isGone ? Number.NaN : state.grid.frequencyHz + 0.006 * drawNoise(noise);
  if (!plan.lean) values[GRID_POWER] = instant.onGrid ? instant.gridW[i]! * state.gain[i]! + 3 * drawNoise(noise) : 0;
}

/** What the current transformer sees: the units of its phase, or all where one serves the site. */
function supplyPointW(state: SiteState, i: number): number {
  const members = state.groups.length > 1 ? state.groups.find((group) => group.includes(i))! : state.groups[0]!;
  let watts = 0;
  for (const j of members) watts += state.instant.gridW[j]!;
  return watts;
}

function measureOutput(state: SiteState, i: number, values: Float64Array): void {
  const { instant, noise, plan } = state;
  const isLost = instant.isLost;
  const activeW = instant.activeW[i]! * state.gain[i]! * (1 + 0.003 * drawNoise(noise)) + 2 * drawNoise(noise);
  const reactiveVar = instant.reactiveVar[i]! * (1 + 0.006 * drawNoise(noise)) + 4 * drawNoise(noise);
  const apparentVa = Math.sqrt(activeW * activeW + reactiveVar * reactiveVar);
  const voltageV = instant.voltageV[i]!;
  values[OUTPUT_VOLTAGE] = isLost ? Math.abs(0.2 * drawNoise(noise)) : voltageV + 0.15 * drawNoise(noise);
  values[OUTPUT_FREQUENCY] = isLost ? Number.NaN : instant.frequencyHz + 0.006 * drawNoise(noise);
  values[OUTPUT_CURRENT] = isLost ? 0 : apparentVa / voltageV + Math.abs(0.03 * drawNoise(noise));
  values[OUTPUT_POWER] = isLost ? 0 : activeW;
  if (plan.lean) return;
  values[OUTPUT_APPARENT] = isLost ? 0 : apparentVa;
  values[OUTPUT_REACTIVE] = isLost ? 0 : reactiveVar;
  values[LOAD] = isLost ? 0 : (100 * activeW) / state.ratedW[i]!;
}

/** @param withSlow  also what changes slowly and is sent less often: counters, fault code */
export function measureUnit(state: SiteState, i: number, tMs: number, withSlow: boolean, values: Float64Array): void {
  const { instant, noise, plan, bank } = state;
  values.fill(Number.NaN);
  measureGrid(state, i, tMs, values);
  measureOutput(state, i, values);
  const dcA = instant.dcW[i]! / bank.busV;
  values[DC_VOLTAGE] = bank.busV - dcA * BATTERY_CABLE_OHM + 0.04 * drawNoise(noise);
  values[DC_CURRENT] = dcA * (1 + 0.005 * drawNoise(noise)) + 0.08 * drawNoise(noise);
  if (state.effects.batteryUnseen[i] === 0) values[BATTERY_SOC] = Math.round(bankGaugePct(bank));
  if (plan.pvShare > 0) values[PV_POWER] = Math.max(0, instant.pvW[i]! * (1 + 0.004 * drawNoise(noise)));
  if (i === 0 || state.groups.length > 1) {
    values[CT_POWER] = instant.onGrid ? supplyPointW(state, i) * 1.004 + 6 * drawNoise(noise) : 2 * drawNoise(noise);
  }
  values[HEATSINK] = state.heatsinkC[i]! + 0.15 * drawNoise(noise);
  values[MODE] = instant.isLost ? MODE_FAULT : isOnBackup(state, i, tMs) ? MODE_BACKUP : MODE_GRID;
  if (!withSlow) return;
  values[FAULT_CODE] = instant.isLost ? TRIP_CODE : 0;
  values[GRID_IMPORT] = Math.floor(state.importWh[i]!);
  values[OUTPUT_ENERGY] = Math.floor(state.outputWh[i]!);
  if (plan.pvShare > 0) values[PV_ENERGY] = Math.floor(state.pvWh[i]!);
}

const PACK_VOLTAGE = packPlace('pack_voltage_v');
const PACK_CURRENT = packPlace('pack_current_a');
const SOC = packPlace('soc_pct');
const SOH = packPlace('soh_pct');
const CELL_MIN = packPlace('cell_voltage_min_v');
const CELL_MAX = packPlace('cell_voltage_max_v');
const CELL_COLD = packPlace('cell_temperature_min_c');
const CELL_WARM = packPlace('cell_temperature_max_c');
const REMAINING = packPlace('remaining_ah');
const FULL = packPlace('full_ah');
const CYCLES = packPlace('cycles');
const PACK_STATE = packPlace('pack_state');
const [STATE_IDLE, STATE_CHARGING, STATE_DISCHARGING] = [1, 2, 3];

/** @param withSlow  also what changes slowly: temperatures, health, ampere-hours, cycles */
export function measurePack(state: SiteState, k: number, withSlow: boolean, values: Float64Array): void {
  const { bank, noise, plan } = state;
  values.fill(Number.NaN);
  const currentA = bank.currentA[k]!;
  const voltageV = bank.isOpen[k] === 1 ? bank.openCircuitV[k]! : bank.busV;
  values[PACK_VOLTAGE] = voltageV + 0.008 * drawNoise(noise);
  values[PACK_CURRENT] = currentA * (1 + 0.003 * drawNoise(noise)) + 0.05 * drawNoise(noise);
  values[SOC] = bank.gaugePct[k]!;
  // Cells part where the curve is steep: near full.
  const spreadV = state.cellSpreadV[k]! * (bank.charge[k]! > 0.97 ? 1 + 130 * (bank.charge[k]! - 0.97) : 1);
  values[CELL_MIN] = voltageV / CELLS - 0.5 * spreadV + 0.0005 * drawNoise(noise);
  values[CELL_MAX] = voltageV / CELLS + 0.5 * spreadV + 0.0005 * drawNoise(noise);
  values[PACK_STATE] = currentA > 0.4 ? STATE_DISCHARGING : currentA < -0.4 ? STATE_CHARGING : STATE_IDLE;
  if (!withSlow) return;
  const warmth = state.weather.ambientC + 2 + 0.00012 * currentA * currentA;
  values[CELL_COLD] = warmth + 0.1 * drawNoise(noise);
  values[CELL_WARM] = warmth + 1.4 + 0.1 * drawNoise(noise);
  const capacityAh = plan.packs[k]!.capacityAh;
  const cycles = Math.floor(state.cycleAh[k]! / capacityAh);
  values[FULL] = capacityAh;
  values[REMAINING] = (bank.gaugePct[k]! * capacityAh) / 100;
  values[CYCLES] = cycles;
  values[SOH] = 100 - 0.004 * cycles;
}

const BANK_VOLTAGE = bankPlace('bank_voltage_v');
const BANK_CURRENT = bankPlace('bank_current_a');
const BANK_SOC = bankPlace('bank_soc_pct');
const CHARGE_LIMIT = bankPlace('charge_limit_a');
const DISCHARGE_LIMIT = bankPlace('discharge_limit_a');
const CHARGE_VOLTAGE = bankPlace('charge_voltage_limit_v');

export function measureBank(state: SiteState, values: Float64Array): void {
  const { bank, noise } = state;
  let currentA = 0;
  for (let k = 0; k < bank.count; k++) currentA += bank.currentA[k]!;
  values[BANK_VOLTAGE] = bank.busV + 0.008 * drawNoise(noise);
  values[BANK_CURRENT] = currentA * (1 + 0.003 * drawNoise(noise)) + 0.08 * drawNoise(noise);
  values[BANK_SOC] = bankGaugePct(bank);
  values[CHARGE_LIMIT] = 0.5 * onlineAh(bank);
  values[DISCHARGE_LIMIT] = onlineAh(bank);
  values[CHARGE_VOLTAGE] = CHARGE_LIMIT_V;
}

const METER_POWER = meterPlace('meter_power_w');
const METER_VOLTAGE = meterPlace('meter_voltage_v');
const METER_FREQUENCY = meterPlace('meter_frequency_hz');
const METER_ENERGY = meterPlace('meter_energy_wh');

/** The meter of the PV that has its own inverter. */
export function measureMeter(state: SiteState, values: Float64Array): void {
  const { instant, noise } = state;
  values[METER_POWER] = Math.max(0, instant.acPvW * (1 + 0.003 * drawNoise(noise)));
  values[METER_VOLTAGE] = instant.isLost ? 0 : instant.nodeV[0]! + 0.15 * drawNoise(noise);
  values[METER_FREQUENCY] = instant.isLost ? Number.NaN : instant.frequencyHz + 0.006 * drawNoise(noise);
  values[METER_ENERGY] = Math.floor(state.acPvWh);
}
