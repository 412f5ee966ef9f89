/** Names and units of settings, from their keys: the unit is the last word of a key, as of a quantity. */
import { UNIT_SYMBOLS } from '../../ingest/vocabulary/quantities.ts';

const SYMBOLS: Readonly<Record<string, string>> = UNIT_SYMBOLS;

/** 'V' for output_voltage_setpoint_v, null where the last word is no unit. */
export function settingUnit(key: string): string | null {
  const at = key.lastIndexOf('_');
  return at === -1 ? null : (SYMBOLS[key.slice(at + 1)] ?? null);
}

/** 'output voltage setpoint': without the unit, which goes with the value. */
export function settingName(key: string): string {
  const words = settingUnit(key) === null ? key : key.slice(0, key.lastIndexOf('_'));
  return words.replaceAll('_', ' ').replace(/\bsoc\b/, 'charge');
}

/** 'u1 230 V' of 'u1 230', with the unit where the value is a number; 'u2 lead acid' otherwise. */
export function settingHeld(key: string, held: string): string {
  const unit = settingUnit(key);
  const isNumber = /\s-?\d+(\.\d+)?$/.test(held);
  return unit !== null && isNumber ? `${held}\u00a0${unit}` : held.replaceAll('_', ' ');
}
