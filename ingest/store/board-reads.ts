/** What the board reads of the store beside blocks and answers: which sites changed, counts, refusals, conflicts. */
import type { SourceKind } from '../vocabulary/quantities.ts';
import { T_MAX_MS, T_MIN_MS } from '../vocabulary/time.ts';
import { type BlockHead, createBlockReads } from './block-reads.ts';
import { journalOf } from './journal.ts';
import type { Db } from './open-store.ts';

/** One cell of which lines spoke differently. */
export interface ContestedCell {
  readonly kind: SourceKind;
  readonly id: string;
  readonly source: number;
  readonly t: number;
  readonly quantity: string;
}

export interface StoredRefusal {
  readonly file: string;
  readonly line: number;
  readonly what: string;
  readonly remedy: string;
}

export interface SourceCounts {
  readonly source: number;
  readonly readings: number;
  readonly days: number;
  readonly tFirst: number;
  readonly tLast: number;
}

const SQL = {
  analysed: 'SELECT site, change, record_seq AS recordSeq, as_of AS asOf, program FROM analysed',
  analysedOf: 'SELECT site, change, record_seq AS recordSeq, as_of AS asOf, program FROM analysed WHERE site = ?',
  recordSeqs: 'SELECT site, MAX(seq) AS seq FROM site_records GROUP BY site',
  changed: 'SELECT DISTINCT site FROM site_days WHERE change > ? ORDER BY site',
  counts: `SELECT source, SUM(readings) AS readings, COUNT(*) AS days, MIN(t_first) AS tFirst, MAX(t_last) AS tLast
    FROM blocks WHERE source = ?`,
  contested: `SELECT s.kind, s.name AS id, c.source, c.t, c.quantity, COUNT(*) AS claims
    FROM sources AS s JOIN claims AS c ON c.source = s.id
    WHERE s.site = ? GROUP BY c.source, c.t, c.quantity ORDER BY c.t DESC, c.source, c.quantity LIMIT ?`,
  contestedCounts: `SELECT source, COUNT(*) AS cells FROM (
    SELECT c.source AS source FROM sources AS s JOIN claims AS c ON c.source = s.id
    WHERE s.site = ? GROUP BY c.source, c.t, c.quantity) GROUP BY source`,
  refusals: `SELECT file, line, what, remedy FROM refusals WHERE file LIKE ? ESCAPE '\\' ORDER BY file, line LIMIT ?`,
  refusalsOf: `SELECT COUNT(*) AS n FROM refusals WHERE file LIKE ? ESCAPE '\\'`,
  refusalsAll: 'SELECT COUNT(*) AS n FROM refusals',
} as const;

/** A text that differs whenever the analysed answer of a site may differ. */
export interface AnsweredSite {
  readonly site: string;
  readonly stamp: string;
  readonly asOf: number;
}

export interface BoardReads {
  /** One entry for each site that was analysed. */
  answered(): AnsweredSite[];
  answeredSite(site: string): AnsweredSite | null;
  /** Newest record of each recorded site. */
  recordSeqs(): ReadonlyMap<string, number>;
  /** Sites with readings, settings or alarms after a change number. */
  changedSites(afterChange: number): string[];
  sourceCounts(source: number): SourceCounts | null;
  /** Newest first. */
  contestedCells(site: string, limit: number): ContestedCell[];
  contestedCounts(site: string): ReadonlyMap<number, number>;
  /** Refused lines of files whose path holds the text. */
  refusals(inPath: string, limit: number): { readonly rows: readonly StoredRefusal[]; readonly count: number };
  refusalCount(): number;
}

/** Of a source with readings. */
function countsOf(source: number, heads: readonly BlockHead[]): SourceCounts {
  return {
    source,
    readings: heads.reduce((sum, { readings }) => sum + readings, 0),
    days: heads.length,
    tFirst: Math.min(...heads.map(({ tFirst }) => tFirst)),
    tLast: Math.max(...heads.map(({ tLast }) => tLast)),
  };
}

const like = (text: string): string => `%${text.replaceAll(/[\\%_]/g, (sign) => `\\${sign}`)}%`;

export function createBoardReads(db: Db): BoardReads {
  type AnalysedRow = { site: string; change: number; recordSeq: number; asOf: number; program: string };
  const answered = db.prepare<[], AnalysedRow>(SQL.analysed);
  const answeredOf = db.prepare<[string], AnalysedRow>(SQL.analysedOf);
  const seqs = db.prepare<[], { site: string; seq: number }>(SQL.recordSeqs);
  const changed = db.prepare<[number], { site: string }>(SQL.changed);
  const counts = db.prepare<[number], SourceCounts>(SQL.counts);
  const contested = db.prepare<[string, number], ContestedCell>(SQL.contested);
  const contestedCounts = db.prepare<[string], { source: number; cells: number }>(SQL.contestedCounts);
  const refusals = db.prepare<[string, number], StoredRefusal>(SQL.refusals);
  const refusalsOf = db.prepare<[string], { n: number }>(SQL.refusalsOf);
  const refusalsAll = db.prepare<[], { n: number }>(SQL.refusalsAll);
  const journal = journalOf(db);
  const { heads } = createBlockReads(db, () => []);
  const stamped = ({ site, change, recordSeq, asOf, program }: AnalysedRow): AnsweredSite => ({
    site,
    asOf,
    stamp: `${change} ${recordSeq} ${asOf} ${program}`,
  });
  return {
    answered: () => answered.all().map(stamped),
    answeredSite(site) {
      const row = answeredOf.get(site);
      return row === undefined ? null : stamped(row);
    },
    recordSeqs: () => new Map(seqs.all().map(({ site, seq }) => [site, seq])),
    changedSites(after) {
      const sites = new Set<string>();
      for (const { source, change } of journal.follow().marks()) {
        if (change > after) sites.add(journal.ownerOf(source).site);
      }
      if (sites.size === 0) return changed.all(after).map(({ site }) => site);
      for (const { site } of changed.all(after)) sites.add(site);
      return [...sites].sort();
    },
    sourceCounts(source) {
      if (journal.follow().days(source).length > 0) return countsOf(source, heads(source, T_MIN_MS, T_MAX_MS));
      const row = counts.get(source);
      return row === undefined || row.days === 0 ? null : row;
    },
    contestedCells: (site, limit) => contested.all(site, limit),
    contestedCounts: (site) => new Map(contestedCounts.all(site).map(({ source, cells }) => [source, cells])),
    refusals(inPath, limit) {
      const pattern = like(inPath);
      return { rows: refusals.all(pattern, limit), count: refusalsOf.get(pattern)?.n ?? 0 };
    },
    refusalCount: () => refusalsAll.get()?.n ?? 0,
  };
}
