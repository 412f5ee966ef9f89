/** Settings as text. Pure. */
import type { ApiSetting, ApiSettingChange } from '../../server/contract/site.ts';
import { PAGE_LABELS } from './page-labels.ts';

const UNITS: Readonly<Record<string, string>> = { v: 'V', hz: 'Hz', pct: '%', a: 'A', w: 'W' };
const unitOf = (key: string): string | undefined => UNITS[key.slice(key.lastIndexOf('_') + 1)];

/** 'output voltage setpoint': without the unit, which goes with the value. */
export function settingName(key: string): string {
  const words = unitOf(key) === undefined ? key : key.slice(0, key.lastIndexOf('_'));
  return words.replaceAll('_', ' ').replace(/\bsoc\b/, 'charge');
}

/** '230 V', 'lithium', 'yes' */
export function settingValue(key: string, value: ApiSetting['value']): string {
  if (value === null) return PAGE_LABELS.contradicted;
  if (typeof value === 'boolean') return value ? PAGE_LABELS.yes : PAGE_LABELS.no;
  const unit = typeof value === 'number' ? unitOf(key) : undefined;
  return unit === undefined ? String(value).replaceAll('_', ' ') : `${value}\u00a0${unit}`;
}

/** 'u2 firmware 4.1 to 4.2' */
export function sayChange({ unit, key, from, to }: ApiSettingChange): string {
  return `${unit} ${settingName(key)} ${settingValue(key, from)} ${PAGE_LABELS.to} ${settingValue(key, to)}`;
}
