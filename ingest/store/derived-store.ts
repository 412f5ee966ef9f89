/** What the analysis keeps: states by day, findings, events. All of it may be emptied and comes back the same. */

import type { Autonomy } from '../vocabulary/autonomy.ts';
import type { ProvenFigure, ShareChart } from '../vocabulary/figure.ts';
import type { BackupEvent, CannotTell, Finding } from '../vocabulary/finding.ts';
import { DAY_MS } from '../vocabulary/time.ts';
import type { Db } from './open-store.ts';
import { DERIVED_TABLES } from './schema.ts';

/** How far a site is analysed, and with what. */
export interface Analysed {
  /** The store's change number up to which days are folded. */
  readonly change: number;
  readonly recordSeq: number;
  /** Names and versions of the analyzers; kept states of another program are of no use. */
  readonly program: string;
  readonly asOf: number;
  /** Readings that were set aside, as sorted JSON: another set means other days. */
  readonly setAside: string;
}

export interface SiteAnswer {
  readonly findings: readonly Finding[];
  readonly events: readonly BackupEvent[];
  readonly cannotTell: readonly CannotTell[];
  readonly figures: readonly ProvenFigure[];
  readonly shareCharts: readonly ShareChart[];
  /** One, or none where no analyzer tells it. */
  readonly autonomy: readonly Autonomy[];
}

const SQL = {
  analysed:
    'SELECT change, record_seq AS recordSeq, program, as_of AS asOf, set_aside AS setAside FROM analysed WHERE site = ?',
  putAnalysed:
    'INSERT OR REPLACE INTO analysed (site, change, record_seq, program, as_of, set_aside) VALUES (?, ?, ?, ?, ?, ?)',
  stateBefore: 'SELECT day, states FROM kept_states WHERE site = ? AND day < ? ORDER BY day DESC LIMIT 1',
  putState: 'INSERT OR REPLACE INTO kept_states (site, day, states) VALUES (?, ?, ?)',
  dropStatesFrom: 'DELETE FROM kept_states WHERE site = ? AND day >= ?',
  stateDays: 'SELECT day FROM kept_states WHERE site = ?',
  dropState: 'DELETE FROM kept_states WHERE site = ? AND day = ?',
} as const;

const BODIES = ['findings', 'events', 'cannot_tell', 'figures', 'share_charts', 'autonomy'] as const;

export interface DerivedStore {
  analysed(site: string): Analysed | null;
  /** The newest kept states of days before dayMs. */
  stateBefore(site: string, dayMs: number): { readonly day: number; readonly states: string } | null;
  /** Replaces what is kept of a site from `fromDayMs` on, thins the older states, and puts the answer, in one transaction. */
  put(
    site: string,
    kept: { fromDayMs: number; states: ReadonlyMap<number, string>; keep: (dayMs: number) => boolean },
    answer: SiteAnswer,
    analysed: Analysed,
  ): void;
  answer(site: string): SiteAnswer;
  /** Empties every derived table. */
  drop(): void;
}

export function createDerivedStore(db: Db): DerivedStore {
  const get = <Row>(sql: string) => db.prepare<unknown[], Row>(sql);
  const st = {
    analysed: get<Analysed>(SQL.analysed),
    putAnalysed: get(SQL.putAnalysed),
    stateBefore: get<{ day: number; states: string }>(SQL.stateBefore),
    putState: get(SQL.putState),
    dropStatesFrom: get(SQL.dropStatesFrom),
    stateDays: get<{ day: number }>(SQL.stateDays),
    dropState: get(SQL.dropState),
  };
  const bodies = (table: (typeof BODIES)[number]) => ({
    all: get<{ body: string }>(`SELECT body FROM ${table} WHERE site = ? ORDER BY place`),
    put: get(`INSERT INTO ${table} (site, place, body) VALUES (?, ?, ?)`),
    drop: get(`DELETE FROM ${table} WHERE site = ?`),
  });
  const tables = {
    findings: bodies('findings'),
    events: bodies('events'),
    cannot_tell: bodies('cannot_tell'),
    figures: bodies('figures'),
    share_charts: bodies('share_charts'),
    autonomy: bodies('autonomy'),
  };
  const read = <Body>(table: (typeof BODIES)[number], site: string): Body[] =>
    tables[table].all.all(site).map(({ body }) => JSON.parse(body) as Body);
  const replace = (table: (typeof BODIES)[number], site: string, values: readonly unknown[]): void => {
    tables[table].drop.run(site);
    for (const [place, value] of values.entries()) tables[table].put.run(site, place, JSON.stringify(value));
  };
  return {
    analysed: (site) => st.analysed.get(site) ?? null,
    stateBefore(site, dayMs) {
      const row = st.stateBefore.get(site, dayMs / DAY_MS);
      return row === undefined ? null : { day: row.day * DAY_MS, states: row.states };
    },
    put: (site, { fromDayMs, states, keep }, answer, analysed) =>
      db
        .transaction(() => {
          st.dropStatesFrom.run(site, fromDayMs / DAY_MS);
          for (const { day } of st.stateDays.all(site)) if (!keep(day * DAY_MS)) st.dropState.run(site, day);
          for (const [day, text] of states) if (keep(day)) st.putState.run(site, day / DAY_MS, text);
          replace('findings', site, answer.findings);
          replace('events', site, answer.events);
          replace('cannot_tell', site, answer.cannotTell);
          replace('figures', site, answer.figures);
          replace('share_charts', site, answer.shareCharts);
          replace('autonomy', site, answer.autonomy);
          st.putAnalysed.run(
            site,
            analysed.change,
            analysed.recordSeq,
            analysed.program,
            analysed.asOf,
            analysed.setAside,
          );
        })
        .immediate(),
    answer: (site) => ({
      findings: read('findings', site),
      events: read('events', site),
      cannotTell: read('cannot_tell', site),
      figures: read('figures', site),
      shareCharts: read('share_charts', site),
      autonomy: read('autonomy', site),
    }),
    drop: () =>
      db
        .transaction(() => {
          for (const table of DERIVED_TABLES) db.exec(`DELETE FROM ${table}`);
        })
        .immediate(),
  };
}
