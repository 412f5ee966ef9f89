/** The settings of each unit, beside each other: what differs is seen at once. */

import type { SiteAnswer } from '../../../server/contract/site.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { settingName } from '../../../server/views/setting-name.ts';
import { sayTime } from '../../../server/views/when.ts';
import { settingValue } from '../../parts/say-change.ts';
import { Sideways, Table } from '../../parts/table.tsx';
import { BOARD } from '../../words.ts';

export function SettingsTable({ answer, saying }: { answer: SiteAnswer; saying: Saying }) {
  const units = answer.record.units.map(({ id }) => id);
  const keys = [...new Set(answer.settings.map(({ key }) => key))].sort();
  if (keys.length === 0) return <p class="notice">{BOARD.noSettings}</p>;
  const settingOf = (unit: string, key: string) =>
    answer.settings.find((setting) => setting.unit === unit && setting.key === key);
  const rows = keys.map((key) => {
    const own = units.map((unit) => settingOf(unit, key));
    const texts = own.map((setting) => (setting === undefined ? '' : settingValue(key, setting.value)));
    const isOne = new Set(texts.filter((text) => text !== '')).size <= 1;
    const since = Math.max(...own.map((setting) => setting?.since ?? 0));
    return [
      settingName(key),
      ...texts.map((text) => (isOne || key === 'serial' ? text : <b>{text}</b>)),
      since === 0 ? '' : sayTime(since, saying),
    ];
  });
  const columns = [
    { head: BOARD.setting },
    ...units.map((unit) => ({ head: unit, isWords: true })),
    { head: BOARD.sinceColumn },
  ];
  return (
    <Sideways label={BOARD.settingsCaption}>
      <Table caption={BOARD.settingsCaption} columns={columns} rows={rows} />
    </Sideways>
  );
}
