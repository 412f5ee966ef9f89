/** Settings of a site's units: what is in force, and what changed when. */
import type { ReadingStore } from '../../ingest/store/reading-store.ts';
import type { SettingValue } from '../../ingest/vocabulary/reading.ts';
import { resolveClaims } from '../../ingest/vocabulary/resolve-claims.ts';
import { T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiSetting, ApiSettingChange } from '../contract/site.ts';

interface Told {
  readonly t: number;
  readonly value: SettingValue | null;
}

export interface SiteSettings {
  readonly inForce: readonly ApiSetting[];
  /** Oldest first; what a unit says for the first time is no change. */
  readonly changes: readonly ApiSettingChange[];
}

/** Each key of a unit in order of time, one value an instant; lines that contradict each other leave null. */
function toldBy(readings: ReadingStore, source: number): ReadonlyMap<string, readonly Told[]> {
  const cells = new Map<
    string,
    {
      readonly key: string;
      readonly t: number;
      readonly claims: { value: string; replaces: boolean; revision: number }[];
    }
  >();
  for (const { t, key, value, replaces, revision } of readings.settings(source, T_MIN_MS, T_MAX_MS)) {
    const cell = cells.get(`${t} ${key}`) ?? { key, t, claims: [] };
    cells.set(`${t} ${key}`, cell);
    cell.claims.push({ value: JSON.stringify(value), replaces, revision });
  }
  const byKey = new Map<string, Told[]>();
  for (const { key, t, claims } of cells.values()) {
    const value = resolveClaims(claims);
    const told = byKey.get(key) ?? [];
    byKey.set(key, told);
    told.push({ t, value: value === null ? null : (JSON.parse(value) as SettingValue) });
  }
  return byKey;
}

export function siteSettings(readings: ReadingStore, site: string): SiteSettings {
  const inForce: ApiSetting[] = [];
  const changes: ApiSettingChange[] = [];
  for (const { source, kind, id: unit } of readings.sources(site)) {
    if (kind !== 'unit') continue;
    for (const [key, told] of toldBy(readings, source)) {
      let since = told[0]!.t;
      told.forEach(({ t, value }, i) => {
        const before = told[i - 1];
        if (before === undefined || before.value === value) return;
        since = t;
        changes.push({ unit, key, t, from: before.value, to: value });
      });
      const last = told.at(-1)!;
      inForce.push({ unit, key, value: last.value, since, heardAt: last.t });
    }
  }
  const byName = (a: ApiSetting, b: ApiSetting): number =>
    a.key === b.key ? (a.unit < b.unit ? -1 : 1) : a.key < b.key ? -1 : 1;
  return { inForce: inForce.sort(byName), changes: changes.sort((a, b) => a.t - b.t || (a.unit < b.unit ? -1 : 1)) };
}
