/** The smaller tables of `kilter sql`: sites, settings, alarms. */
import { SOURCE_KINDS } from '../vocabulary/quantities.ts';
import type { SettingValue } from '../vocabulary/reading.ts';
import { resolveClaims } from '../vocabulary/resolve-claims.ts';
import { T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import type { ReadingStore, SettingClaim } from './reading-store.ts';
import type { SqlTable, SqlValue } from './sql-view.ts';

/** One row a site, recorded or only heard, by its newest document. */
export function sitesTable(store: ReadingStore): SqlTable {
  return {
    name: 'sites',
    columns: [
      'site TEXT',
      'name TEXT',
      'timezone TEXT',
      '"group" TEXT',
      'commissioned INTEGER',
      'sample_interval_s REAL',
      'units INTEGER',
      'packs INTEGER',
      't_last INTEGER',
    ],
    *rows() {
      const sites = [...new Set([...store.recordSites(), ...store.heardSites()])].sort();
      for (const site of sites) {
        const record = store.siteHistory(site)?.history.documents.at(-1);
        const newest = store.sources(site).map(({ source }) => store.newestReading(source) ?? T_MIN_MS);
        const last = Math.max(T_MIN_MS, ...newest);
        yield [
          site,
          record?.name ?? null,
          record?.timezone ?? null,
          record?.group ?? null,
          record?.commissioned ?? null,
          record?.sample_interval_s ?? null,
          record?.units.length ?? null,
          record?.packs.length ?? null,
          last === T_MIN_MS ? null : last,
        ];
      }
    },
  };
}

const asSql = (value: SettingValue): SqlValue => (typeof value === 'boolean' ? String(value) : value);

/** One row a unit, key and time of change; NULL where lines that contradict each other leave it undecided. */
export function settingsTable(store: ReadingStore): SqlTable {
  return {
    name: 'settings',
    columns: ['site TEXT', 'unit TEXT', 'key TEXT', 'value', 't INTEGER'],
    *rows() {
      for (const { source, site, kind, id } of store.sources()) {
        if (kind !== 'unit') continue;
        const cells = new Map<string, SettingClaim[]>();
        for (const claim of store.settings(source, T_MIN_MS, T_MAX_MS + 1)) {
          const cell = `${claim.t} ${claim.key}`;
          cells.set(cell, [...(cells.get(cell) ?? []), claim]);
        }
        for (const claims of cells.values()) {
          const { t, key } = claims[0]!;
          const value = resolveClaims(claims.map((claim) => ({ ...claim, value: JSON.stringify(claim.value) })));
          yield [site, id, key, value === null ? null : asSql(JSON.parse(value) as SettingValue), t];
        }
      }
    },
  };
}

/** One row an alarm raised or cleared; of unit, pack, bank and meter the one that sent it is given. */
export function alarmsTable(store: ReadingStore): SqlTable {
  return {
    name: 'alarms',
    columns: ['site TEXT', ...SOURCE_KINDS.map((kind) => `${kind} TEXT`), 't INTEGER', 'alarm TEXT', 'state TEXT'],
    *rows() {
      for (const { source, site, kind, id } of store.sources()) {
        const who = SOURCE_KINDS.map((one) => (one === kind ? id : null));
        for (const { t, alarm, state } of store.alarms(source, T_MIN_MS, T_MAX_MS + 1)) {
          yield [site, ...who, t, alarm, state];
        }
      }
    },
  };
}
