/** Settings as text. Pure. */
import type { ApiSetting, ApiSettingChange } from '../../server/contract/site.ts';
import { settingName, settingUnit } from '../../server/views/setting-name.ts';
import { PAGE_LABELS } from './page-labels.ts';

/** '230 V', 'lithium', 'yes' */
export function settingValue(key: string, value: ApiSetting['value']): string {
  if (value === null) return PAGE_LABELS.contradicted;
  if (typeof value === 'boolean') return value ? PAGE_LABELS.yes : PAGE_LABELS.no;
  const unit = typeof value === 'number' ? settingUnit(key) : null;
  return unit === null ? String(value).replaceAll('_', ' ') : `${value}\u00a0${unit}`;
}

/** 'u2 firmware 4.1 to 4.2' */
export function sayChange({ unit, key, from, to }: ApiSettingChange): string {
  return `${unit} ${settingName(key)} ${settingValue(key, from)} ${PAGE_LABELS.to} ${settingValue(key, to)}`;
}
