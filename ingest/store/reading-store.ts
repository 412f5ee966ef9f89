/**
 * What the rest of the house needs of the store: sources, day blocks, claims, settings, alarms, records.
 * A distributed engine would stand behind the same functions.
 */
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { SettingValue, SourceKey } from '../vocabulary/reading.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import { type BlockReads, createBlockReads } from './block-reads.ts';
import type { Claim } from './claim.ts';
import { encodeDay, type StoredDay } from './day-block-codec.ts';
import { type ImportRows, importRows } from './import-rows.ts';
import { type Journal, journalOf } from './journal.ts';
import type { UnsealedMark } from './journal-tail.ts';
import type { Db } from './open-store.ts';

export type { BlockHead } from './block-reads.ts';

export interface StoredSource extends SourceKey {
  readonly source: number;
}

export interface StoredAlarm {
  readonly source: number;
  readonly t: number;
  readonly alarm: string;
  readonly state: 'raised' | 'cleared';
}

export interface SettingClaim {
  readonly source: number;
  readonly t: number;
  readonly key: string;
  readonly value: SettingValue;
  readonly replaces: boolean;
  readonly revision: number;
}

const SQL = {
  addSource: 'INSERT INTO sources (site, kind, name) VALUES (?, ?, ?) ON CONFLICT DO NOTHING',
  sourceId: 'SELECT id AS source FROM sources WHERE site = ? AND kind = ? AND name = ?',
  sources: 'SELECT id AS source, site, kind, name AS id FROM sources ORDER BY site, kind DESC, name',
  siteSources: 'SELECT id AS source, site, kind, name AS id FROM sources WHERE site = ? ORDER BY kind DESC, name',
  putBlock: `INSERT OR REPLACE INTO blocks (source, day, readings, t_first, t_last, summary, data) VALUES (?, ?, ?, ?, ?, ?, ?)`,
  claims: `SELECT t, quantity, value, replaces, revision FROM claims WHERE source = ? AND t >= ? AND t < ? ORDER BY t, quantity, replaces, revision, value`,
  addClaim: 'INSERT OR IGNORE INTO claims (source, t, quantity, value, replaces, revision) VALUES (?, ?, ?, ?, ?, ?)',
  addSetting: 'INSERT OR IGNORE INTO settings (source, t, key, value, replaces, revision) VALUES (?, ?, ?, ?, ?, ?)',
  settings: `SELECT source, t, key, value, replaces, revision FROM settings WHERE source = ? AND t >= ? AND t < ? ORDER BY t, key, replaces, revision, value`,
  addAlarm: 'INSERT OR IGNORE INTO alarms (source, t, alarm, state) VALUES (?, ?, ?, ?)',
  alarms: 'SELECT source, t, alarm, state FROM alarms WHERE source = ? AND t >= ? AND t < ? ORDER BY t, alarm, state',
  bump: `UPDATE counters SET value = value + 1 WHERE name = 'change' RETURNING value`,
  change: `SELECT value FROM counters WHERE name = 'change'`,
  markDay: `INSERT INTO site_days (site, day, change) VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET change = MAX(change, excluded.change)`,
  siteDays: 'SELECT day FROM site_days WHERE site = ? ORDER BY day',
  firstChanged: 'SELECT MIN(day) AS day FROM site_days WHERE site = ? AND change > ?',
  heardSites: 'SELECT DISTINCT site FROM sources ORDER BY site',
  addRecord: `INSERT INTO site_records (site, seq, added_at, documents) VALUES (?, ?, ?, ?)`,
  record: 'SELECT seq, documents FROM site_records WHERE site = ? ORDER BY seq DESC LIMIT 1',
  recordSites: 'SELECT DISTINCT site FROM site_records ORDER BY site',
  heartbeat: 'INSERT OR IGNORE INTO heartbeats (t) VALUES (?)',
  newestHeartbeat: 'SELECT MAX(t) AS t FROM heartbeats WHERE t <= ?',
} as const;

type Bindable = number | string | bigint | Uint8Array | null;

const dayNumber = (dayMs: number): number => Math.round(dayMs / DAY_MS);

export interface ReadingStore extends BlockReads {
  readonly db: Db;
  /** Runs the body in one write transaction; the body is synchronous. */
  transaction<T>(body: () => T): T;
  /** The number of a source, made where it is new. */
  sourceOf(key: SourceKey): number;
  sources(site?: string): StoredSource[];
  putBlock(source: number, day: StoredDay): void;
  claims(source: number, from: number, to: number): Claim[];
  /** @returns true where the claim was not there yet */
  addClaim(source: number, claim: Claim): boolean;
  settings(source: number, from: number, to: number): SettingClaim[];
  addSetting(claim: SettingClaim): boolean;
  alarms(source: number, from: number, to: number): StoredAlarm[];
  addAlarm(alarm: StoredAlarm): boolean;
  /** Raises the change number; called once in a transaction that changes ground tables. */
  nextChange(): number;
  change(): number;
  markDay(site: string, dayMs: number, change: number): void;
  /** Days on which a site has readings, settings or alarms, in order, epoch ms. */
  siteDays(site: string): number[];
  /** The first day that changed after a change number, or null. */
  firstChangedDay(site: string, afterChange: number): number | null;
  heardSites(): string[];
  recordSites(): string[];
  siteHistory(site: string): { readonly seq: number; readonly history: SiteHistory } | null;
  /** Stores a site's documents where they differ from what holds. @returns whether they did */
  addRecord(history: SiteHistory, addedAt: number): boolean;
  /** How far an import came. */
  importProgress(run: string): ImportRows;
  addHeartbeat(t: number): void;
  newestHeartbeat(upTo: number): number | null;
}

/** Prepares every statement once. */
export function createReadingStore(db: Db): ReadingStore {
  const st = Object.fromEntries(Object.entries(SQL).map(([name, sql]) => [name, db.prepare<Bindable[]>(sql)])) as {
    readonly [Name in keyof typeof SQL]: ReturnType<typeof db.prepare<Bindable[]>>;
  };
  const ids = new Map<string, number>();
  /** Decoders name a source by the same object again and again. */
  let idOf = new WeakMap<SourceKey, number>();
  const journal = journalOf(db);
  return {
    db,
    transaction(body) {
      try {
        return db.transaction(body).immediate();
      } catch (error) {
        // Sources made in a transaction that was rolled back are gone, and so is what it wrote and deleted.
        ids.clear();
        idOf = new WeakMap();
        journal.forget();
        throw error;
      }
    },
    sourceOf(key) {
      const known = idOf.get(key);
      if (known !== undefined) return known;
      const { site, kind, id } = key;
      const name = `${site}/${kind}/${id}`;
      let source = ids.get(name);
      if (source === undefined) {
        st.addSource.run(site, kind, id);
        source = (st.sourceId.get(site, kind, id) as { source: number }).source;
        ids.set(name, source);
      }
      idOf.set(key, source);
      return source;
    },
    sources: (site) => (site === undefined ? st.sources.all() : st.siteSources.all(site)) as StoredSource[],
    ...createBlockReads(db, claimsOf(st)),
    putBlock(source, day) {
      const { data, summary } = encodeDay(day);
      const readings = day.tMs.length;
      const first = day.tMs[0]!;
      st.putBlock.run(source, Math.floor(first / DAY_MS), readings, first, day.tMs[readings - 1]!, summary, data);
      journal.countBlockWrite();
    },
    ...groundRows(st),
    importProgress: (run) => importRows(db, run),
    ...siteRows(db, st, journal),
  };
}

type Statements = {
  readonly [Name in keyof typeof SQL]: {
    get(...p: Bindable[]): unknown;
    all(...p: Bindable[]): unknown[];
    run(...p: Bindable[]): { changes: number };
  };
};

function claimsOf(st: Statements): ReadingStore['claims'] {
  return (source, from, to) =>
    (st.claims.all(source, from, to) as (Omit<Claim, 'replaces'> & { replaces: number })[]).map((c) => ({
      ...c,
      replaces: c.replaces === 1,
    }));
}

function groundRows(
  st: Statements,
): Pick<ReadingStore, 'claims' | 'addClaim' | 'settings' | 'addSetting' | 'alarms' | 'addAlarm'> {
  return {
    claims: claimsOf(st),
    addClaim: (source, { t, quantity, value, replaces, revision }) =>
      st.addClaim.run(source, t, quantity, value, replaces ? 1 : 0, revision).changes > 0,
    settings: (source, from, to) =>
      (
        st.settings.all(source, from, to) as {
          source: number;
          t: number;
          key: string;
          value: string;
          replaces: number;
          revision: number;
        }[]
      ).map((c) => ({
        ...c,
        value: JSON.parse(c.value) as SettingValue,
        replaces: c.replaces === 1,
      })),
    addSetting: ({ source, t, key, value, replaces, revision }) =>
      st.addSetting.run(source, t, key, JSON.stringify(value), replaces ? 1 : 0, revision).changes > 0,
    alarms: (source, from, to) => st.alarms.all(source, from, to) as StoredAlarm[],
    addAlarm: ({ source, t, alarm, state }) => st.addAlarm.run(source, t, alarm, state).changes > 0,
  };
}

type SiteRows = Pick<
  ReadingStore,
  | 'nextChange'
  | 'change'
  | 'markDay'
  | 'siteDays'
  | 'firstChangedDay'
  | 'heardSites'
  | 'recordSites'
  | 'siteHistory'
  | 'addRecord'
  | 'addHeartbeat'
  | 'newestHeartbeat'
>;

function siteRows(db: Db, st: Statements, journal: Journal): SiteRows {
  const unsealedOf = (site: string): UnsealedMark[] => {
    const tail = journal.follow();
    if (tail.isEmpty) return [];
    return (st.siteSources.all(site) as StoredSource[]).flatMap(({ source }) => tail.marksOf(source));
  };
  const holding = (site: string) => st.record.get(site) as { seq: number; documents: string } | undefined;
  return {
    nextChange: () => (st.bump.get() as { value: number }).value,
    change: () => (st.change.get() as { value: number }).value,
    markDay: (site, dayMs, change) => {
      st.markDay.run(site, dayNumber(dayMs), change);
    },
    siteDays(site) {
      // The journal first: what is sealed meanwhile is then in both.
      const unsealed = unsealedOf(site).map(({ day }) => day);
      const marked = (st.siteDays.all(site) as { day: number }[]).map(({ day }) => day);
      return [...new Set([...marked, ...unsealed])].sort((a, b) => a - b).map((day) => day * DAY_MS);
    },
    firstChangedDay(site, afterChange) {
      const unsealed = unsealedOf(site).filter(({ change }) => change > afterChange);
      const { day } = st.firstChanged.get(site, afterChange) as { day: number | null };
      const first = Math.min(day ?? Number.POSITIVE_INFINITY, ...unsealed.map((mark) => mark.day));
      return first === Number.POSITIVE_INFINITY ? null : first * DAY_MS;
    },
    heardSites: () => (st.heardSites.all() as { site: string }[]).map(({ site }) => site),
    recordSites: () => (st.recordSites.all() as { site: string }[]).map(({ site }) => site),
    siteHistory(site) {
      const row = holding(site);
      if (row === undefined) return null;
      const documents = JSON.parse(row.documents) as [SiteRecord, ...SiteRecord[]];
      return { seq: row.seq, history: { site, documents } };
    },
    addRecord: (history, addedAt) =>
      db
        .transaction(() => {
          const documents = JSON.stringify(history.documents);
          const now = holding(history.site);
          if (now?.documents === documents) return false;
          st.addRecord.run(history.site, (now?.seq ?? 0) + 1, addedAt, documents);
          st.bump.get();
          return true;
        })
        .immediate(),
    addHeartbeat: (t) => {
      st.heartbeat.run(t);
    },
    newestHeartbeat: (upTo) => (st.newestHeartbeat.get(upTo) as { t: number | null }).t,
  };
}
