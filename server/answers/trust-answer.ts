/** What can be trusted of a site's data: its sources, what is missing, what contradicts, what was not taken. */
import type { SiteRecord } from '../../ingest/site/record.ts';
import type { StoredRefusal } from '../../ingest/store/board-reads.ts';
import type { StoredSource } from '../../ingest/store/reading-store.ts';
import { resolveClaims } from '../../ingest/vocabulary/resolve-claims.ts';
import { DAY_MS, dayOf, MINUTE_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { Conflict, TrustAnswer, TrustSource } from '../contract/trust.ts';
import { type Facts, type House, recordNow, type SiteFacts } from './house.ts';
import { namedIn, withId } from './site-answer.ts';

const DAYS = 30;
/** More say nothing new; their number is told beside. */
const LIMITS = { gaps: 50, conflicts: 100, refusals: 100, refusalsRead: 20_000 } as const;
/** Silence as in formats.md, section 4: six intervals, at least ten minutes. */
const GAP_INTERVALS = 6;
const LEAST_GAP_MS = 10 * MINUTE_MS;
const NO_COLUMNS: ReadonlySet<number> = new Set();

interface Window {
  readonly from: number;
  readonly nowMs: number;
  readonly everyMs: number;
}

/** Spans without a reading longer than a gap; the last one lasts where nothing came since. */
function gapsOf({ readings }: House, source: number, firstAt: number | null, { from, nowMs, everyMs }: Window) {
  const gapMs = Math.max(LEAST_GAP_MS, GAP_INTERVALS * everyMs);
  const gaps: { from: number; to: number | null }[] = [];
  let heard = 0;
  // Who was heard before the 30 days and not since their start is silent from their start on.
  let last: number | null = firstAt !== null && firstAt < from ? from : null;
  for (const { tMs } of readings.readBlocks(source, dayOf(from), nowMs, { columns: NO_COLUMNS, extras: false })) {
    for (const t of tMs) {
      if (t < from || t > nowMs) continue;
      if (last !== null && t - last > gapMs) gaps.push({ from: last, to: t });
      last = t;
      heard++;
    }
  }
  if (last !== null && nowMs - last > gapMs) gaps.push({ from: last, to: null });
  const lengthOf = ({ from: start, to }: { from: number; to: number | null }): number => (to ?? nowMs) - start;
  return { heard, gaps: gaps.sort((a, b) => lengthOf(b) - lengthOf(a)) };
}

function trustSource(
  house: House,
  source: StoredSource,
  isRecorded: boolean,
  conflicts: number,
  window: Window,
): TrustSource {
  const counts = house.reads.sourceCounts(source.source);
  const { heard, gaps } = gapsOf(house, source.source, counts?.tFirst ?? null, window);
  const since = Math.max(window.from, counts?.tFirst ?? window.nowMs);
  return {
    kind: source.kind,
    id: source.id,
    isRecorded,
    firstAt: counts?.tFirst ?? null,
    newestAt: counts?.tLast ?? null,
    readings: counts?.readings ?? 0,
    days: counts?.days ?? 0,
    expected: isRecorded ? Math.max(0, Math.round((window.nowMs - since) / window.everyMs)) : null,
    heard,
    gaps: gaps.slice(0, LIMITS.gaps),
    gapCount: gaps.length,
    conflicts,
  };
}

/** Units, packs and meters that the record names and that never sent a line: what is missing is listed, not left out. */
function neverHeard(
  record: SiteRecord,
  sources: readonly StoredSource[],
  { from, nowMs, everyMs }: Window,
): TrustSource[] {
  const expected = Math.round((nowMs - Math.max(from, record.commissioned ?? from)) / everyMs);
  const named = [
    ...record.units.map(({ id }) => ({ kind: 'unit' as const, id })),
    ...record.packs.map(({ id }) => ({ kind: 'pack' as const, id })),
    ...record.meters.map(({ id }) => ({ kind: 'meter' as const, id })),
  ];
  return named
    .filter(({ kind, id }) => !sources.some((source) => source.kind === kind && source.id === id))
    .map((one) => ({
      ...one,
      isRecorded: true,
      firstAt: null,
      newestAt: null,
      readings: 0,
      days: 0,
      expected: Math.max(0, expected),
      heard: 0,
      gaps: [],
      gapCount: 0,
      conflicts: 0,
    }));
}

/** Those whose path names the site itself: millpond-east is not millpond. */
function refusalsOf(rows: readonly StoredRefusal[], site: string): StoredRefusal[] {
  const named = new RegExp(`(^|[^a-z0-9-])${site}([^a-z0-9-]|$)`);
  return rows.filter(({ file }) => named.test(file));
}

function conflictsOf({ readings, reads }: House, site: string): Conflict[] {
  return reads.contestedCells(site, LIMITS.conflicts).map(({ kind, id, source, t, quantity }) => {
    const claims = readings.claims(source, t, t + 1).filter((claim) => claim.quantity === quantity);
    return {
      kind,
      id,
      t,
      quantity,
      claims: claims.map(({ value, replaces, revision }) => ({ value, replaces, revision })),
      decided: resolveClaims(claims),
    };
  });
}

/** Readings that the analysis set aside, by the names of their sources. */
function setAsideOf({ derived }: House, site: string, sources: readonly StoredSource[]): TrustAnswer['setAside'] {
  const stored = derived.analysed(site)?.setAside;
  if (stored === undefined) return [];
  const readings = JSON.parse(stored) as readonly { readonly source: number; readonly t: number }[];
  return readings.flatMap(({ source, t }) => {
    const own = sources.find((one) => one.source === source);
    return own === undefined ? [] : [{ kind: own.kind, id: own.id, t }];
  });
}

export function trustAnswer(house: House, facts: Facts, own: SiteFacts): TrustAnswer {
  const { readings, reads } = house;
  const nowMs = house.nowMs();
  const record = recordNow(own, nowMs);
  const window = { from: nowMs - DAYS * DAY_MS, nowMs, everyMs: record.sample_interval_s * SECOND_MS };
  const sources = readings.sources(own.site);
  const isNamed = namedIn(own.history);
  const contested = reads.contestedCounts(own.site);
  // Lines that were refused name no site for certain; the path of their file does.
  const refusals = refusalsOf(reads.refusals(own.site, LIMITS.refusalsRead).rows, own.site);
  return {
    ...facts.version(),
    site: own.site,
    name: record.name,
    zone: record.timezone,
    now: nowMs,
    from: window.from,
    sources: [
      ...sources.map((source) =>
        trustSource(house, source, isNamed(source), contested.get(source.source) ?? 0, window),
      ),
      ...neverHeard(record, sources, window),
    ],
    silences: own.analysis.findings
      .filter(({ kind, end }) => kind.endsWith('_silent') && (end === null || end >= window.from))
      .sort((a, b) => b.start - a.start)
      .map(withId),
    conflicts: conflictsOf(house, own.site),
    conflictCount: [...contested.values()].reduce((sum, n) => sum + n, 0),
    refusals: refusals.slice(0, LIMITS.refusals),
    refusalCount: refusals.length,
    refusalsElsewhere: reads.refusalCount() - refusals.length,
    setAside: setAsideOf(house, own.site, sources),
    cannotTell: own.analysis.cannotTell,
  };
}
