/** Settings as text. Pure. */

import type { ApiSetting, ApiSettingChange } from '../../server/contract/site.ts';
import { settingName, settingUnit } from '../../server/views/setting-name.ts';
import { BOARD } from '../words.ts';

/** '230 V', 'lithium', 'yes' */
export function settingValue(key: string, value: ApiSetting['value']): string {
  if (value === null) return BOARD.contradicted;
  if (typeof value === 'boolean') return value ? BOARD.yes : BOARD.no;
  const unit = typeof value === 'number' ? settingUnit(key) : null;
  return unit === null ? String(value).replaceAll('_', ' ') : `${value}\u00a0${unit}`;
}

/** 'u2 firmware 4.1 to 4.2' */
export function sayChange({ unit, key, from, to }: ApiSettingChange): string {
  return `${unit} ${settingName(key)} ${settingValue(key, from)} ${BOARD.to} ${settingValue(key, to)}`;
}
