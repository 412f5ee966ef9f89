/** Settings and alarms of a line: rows of their own tables, beside the reading that the line may have brought. */
import type { ReadingStore } from '../store/reading-store.ts';
import type { AlarmReading, SettingsReading } from '../vocabulary/reading.ts';
import { dayOf } from '../vocabulary/time.ts';

export type AsideLine = Pick<SettingsReading, 'reading'>;

interface StoredOwner {
  readonly site: string;
  readonly source: number;
}

/** @returns whether the line said something new, which marks its day */
export function storeSettings(
  store: ReadingStore,
  { site, source }: StoredOwner,
  { t, values, replaces, revision }: SettingsReading,
  nextChange: () => number,
): boolean {
  let isNews = false;
  for (const [key, value] of Object.entries(values)) {
    isNews = store.addSetting({ source, t, key, value, replaces, revision }) || isNews;
  }
  if (isNews) store.markDay(site, dayOf(t), nextChange());
  return isNews;
}

/** @returns whether the line said something new, which marks its day */
export function storeAlarm(
  store: ReadingStore,
  { site, source }: StoredOwner,
  { t, alarm, state }: AlarmReading,
  nextChange: () => number,
): boolean {
  const isNews = store.addAlarm({ source, t, alarm, state });
  if (isNews) store.markDay(site, dayOf(t), nextChange());
  return isNews;
}
