/** The settings of each unit, beside each other: what differs is seen at once. */
import type { SiteAnswer } from '../../../server/contract/site.ts';
import type { Saying } from '../../../server/views/saying.ts';
import { settingName } from '../../../server/views/setting-name.ts';
import { sayTime } from '../../../server/views/when.ts';
import { PAGE_LABELS } from '../../parts/page-labels.ts';
import { settingValue } from '../../parts/say-change.ts';
import { Sideways, Table } from '../../parts/table.tsx';

export function SettingsTable({ answer, saying }: { answer: SiteAnswer; saying: Saying }) {
  const units = answer.record.units.map(({ id }) => id);
  const keys = [...new Set(answer.settings.map(({ key }) => key))].sort();
  if (keys.length === 0) return <p class="notice">{PAGE_LABELS.noSettings}</p>;
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
    { head: PAGE_LABELS.setting },
    ...units.map((unit) => ({ head: unit, isWords: true })),
    { head: PAGE_LABELS.sinceColumn },
  ];
  return (
    <Sideways label={PAGE_LABELS.settingsCaption}>
      <Table caption={PAGE_LABELS.settingsCaption} columns={columns} rows={rows} />
    </Sideways>
  );
}
