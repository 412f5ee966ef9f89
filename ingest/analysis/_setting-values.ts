/** When two settings are the same, whatever text or number they were sent as. */
import type { SettingValue } from '../vocabulary/reading.ts';

/** One form of a value for comparing: "230", " 230.0 " and 230 are the same, "true" and true are. */
export function settingKey(value: SettingValue): string {
  if (typeof value === 'boolean') return String(value);
  const text = String(value).trim();
  const number = Number(text);
  return text !== '' && Number.isFinite(number) ? String(number) : text;
}

/** The value as a number, or null where it is none. */
export function settingNumber(value: SettingValue | undefined | null): number | null {
  if (value === undefined || value === null || typeof value === 'boolean') return null;
  const number = Number(settingKey(value));
  return Number.isFinite(number) && settingKey(value) !== '' ? number : null;
}
