/**
 * Units, packs and whole sites that say nothing. Live or from an import, the answer is the same: now is
 * the upper median of the newest readings of the record's units and packs, so one that is silent stands
 * out against the others, and a silence of all of them is seen when readings resume (or by the worker's
 * heartbeat, through `asOf`).
 */
import type { DayBlock } from '../alignment/day-block.ts';
import { recordAt } from '../site/history.ts';
import type { SiteHistory, SiteRecord } from '../site/record.ts';
import type { Finding, FindingKind } from '../vocabulary/finding.ts';
import { DAY_MS, epochMs, formatTime, MINUTE_MS, SECOND_MS } from '../vocabulary/time.ts';
import { silenceMs } from './_patience.ts';
import { type Gap, intersectGaps, longGaps, type Witness, whenNowReaches } from './_silence-gaps.ts';
import { isInGridLoss, type LastPlaces, placesAfter, wasOffAt } from './_silence-place.ts';
import type { Analyzer } from './analyzer.ts';

interface Silence {
  readonly kind: 'unit_silent' | 'pack_silent' | 'site_silent';
  readonly id: string;
  readonly start: number;
  readonly detectedAt: number;
  readonly end: number | null;
  readonly limitMs: number;
  readonly neverHeard: boolean;
  /** Of a silence of the whole site: whether it fell into a grid loss. */
  readonly inGridLoss: boolean;
}

export interface SilencesState {
  readonly firstT: number | null;
  /** Newest reading of any unit or pack of the record. */
  readonly lastT: number | null;
  /** Newest reading of each unit and pack. */
  readonly lastById: Readonly<Record<string, number>>;
  /** When the site last spoke again after a silence of all: nobody is blamed for that one. */
  readonly resumedAt: number | null;
  readonly open: Readonly<Record<string, Silence>>;
  readonly done: readonly Silence[];
  readonly places: LastPlaces;
}

interface Source extends Witness {
  readonly id: string;
  readonly kind: 'unit_silent' | 'pack_silent';
  /** Its newest reading; where it never spoke, since when it should have. */
  readonly since: number;
  /** From when its silence counts where it never spoke. */
  readonly countsFrom: number;
}

const NO_READINGS = new Float64Array(0);

/** Since when a unit or pack is in the record; null where it is in the first document, from ever. */
function recordedSince(site: SiteHistory, id: string): number | null {
  const first = site.documents.findIndex((document) =>
    [...document.units, ...document.packs].some((source) => source.id === id),
  );
  return first <= 0 ? null : (site.documents[first]?.validFrom ?? null);
}

/** A later document is dated by the day, the work is done some time in it: what it brings has a day to speak. */
const FIRST_WORD_MS = DAY_MS;

function sourcesOf(state: SilencesState, block: DayBlock, site: SiteHistory, record: SiteRecord): Source[] {
  const named = [
    ...record.units.map(({ id }) => ({ id, kind: 'unit_silent' as const, day: block.units.get(id) })),
    ...record.packs.map(({ id }) => ({ id, kind: 'pack_silent' as const, day: block.packs.get(id) })),
  ].map(({ id, kind, day }) => ({ id, kind, tMs: day?.tMs ?? NO_READINGS, last: state.lastById[id] ?? null }));
  const earliest = state.firstT ?? Math.min(...named.map((s) => s.tMs[0] ?? Number.POSITIVE_INFINITY));
  return named.map((source) => ({
    ...source,
    since: source.last ?? Math.max(earliest, recordedSince(site, source.id) ?? earliest),
    countsFrom:
      source.last ?? Math.max(earliest, (recordedSince(site, source.id) ?? Number.NEGATIVE_INFINITY) + FIRST_WORD_MS),
  }));
}

/** Silences of the whole site that ended this day. */
function siteGaps(sources: readonly Source[], limitMs: number): Gap[] {
  const heard = sources.filter(({ tMs, last }) => last !== null || tMs.length > 0);
  const [first, ...others] = heard.map(({ tMs, last }) => longGaps(tMs, last ?? Number.NEGATIVE_INFINITY, limitMs));
  if (first === undefined) return [];
  const together = others.reduce((all, gaps) => intersectGaps(all, gaps, limitMs), first);
  return together.filter(({ from, to }) => Number.isFinite(from) && Number.isFinite(to));
}

/** First reading of the day of any of them; Infinity where there is none. */
function earliestOf(sources: readonly Source[]): number {
  return Math.min(Number.POSITIVE_INFINITY, ...sources.map(({ tMs }) => tMs[0] ?? Number.POSITIVE_INFINITY));
}

/**
 * When a source's silence could first be said, or null. It counts from its last reading, and anew from
 * each time the whole site resumed, so that a source that resumes a little later is not blamed.
 */
function raisedAt(gap: Gap, bases: readonly number[], sources: readonly Source[], limitMs: number): number | null {
  for (let k = 0; k < bases.length; k++) {
    const until = Math.min(gap.to, bases[k + 1] ?? Number.POSITIVE_INFINITY);
    // Reached before the day, but not said then: the record's sample interval changed at midnight.
    const t = Math.max(whenNowReaches(bases[k]! + limitMs, sources), earliestOf(sources));
    if (t < until && t - bases[k]! >= limitMs) return t;
  }
  return null;
}

interface Found {
  readonly open: Record<string, Silence>;
  readonly done: Silence[];
}

function judgeSource(
  source: Source,
  state: SilencesState,
  all: readonly Source[],
  resumed: readonly number[],
  limitMs: number,
  found: Found,
): void {
  const { id, kind } = source;
  const standing = state.open[id];
  const firstT = source.tMs[0];
  if (standing !== undefined) {
    if (firstT === undefined) found.open[id] = standing;
    else found.done.push({ ...standing, end: firstT });
  }
  for (const gap of longGaps(source.tMs, source.since, limitMs)) {
    if (standing !== undefined && gap.from === source.since) continue;
    const from = gap.from === source.since ? Math.max(gap.from, source.countsFrom) : gap.from;
    const before = Math.max(from, state.resumedAt ?? from);
    const bases = [before, ...resumed.filter((t) => t > before && t <= gap.to)];
    const detectedAt = raisedAt(gap, bases, all, limitMs);
    if (detectedAt === null) continue;
    const neverHeard = source.last === null && gap.from === source.since;
    const silence = { kind, id, start: gap.from, detectedAt, end: null, limitMs, neverHeard, inGridLoss: false };
    if (Number.isFinite(gap.to)) found.done.push({ ...silence, end: gap.to });
    else found.open[id] = silence;
  }
}

/** A unit or pack that the record no longer names is not silent any more. */
function endRetired(state: SilencesState, record: SiteRecord, found: Found): void {
  const named = new Set([...record.units, ...record.packs].map(({ id }) => id));
  for (const silence of Object.values(state.open)) {
    if (!named.has(silence.id))
      found.done.push({ ...silence, end: Math.max(record.validFrom ?? 0, silence.detectedAt) });
  }
}

function fold(state: SilencesState, block: DayBlock, site: SiteHistory): SilencesState {
  const record = recordAt(site, block.day);
  const limitMs = silenceMs(record);
  const sources = sourcesOf(state, block, site, record);
  const gaps = siteGaps(sources, limitMs);
  const resumed = gaps.map(({ to }) => to);
  const found: Found = { open: {}, done: [] };
  endRetired(state, record, found);
  if (sources.some(({ since }) => Number.isFinite(since))) {
    for (const source of sources) judgeSource(source, state, sources, resumed, limitMs, found);
  }
  for (const gap of gaps) {
    const { from, to } = gap;
    found.done.push({
      kind: 'site_silent',
      id: 'site',
      start: from,
      detectedAt: to,
      end: to,
      limitMs,
      neverHeard: false,
      inGridLoss: isInGridLoss(gap, state.places, block, record),
    });
  }
  const lastById: Record<string, number> = { ...state.lastById };
  for (const { id, tMs } of sources) if (tMs.length > 0) lastById[id] = tMs.at(-1)!;
  const times = sources.flatMap(({ tMs }) => (tMs.length > 0 ? [tMs[0]!, tMs.at(-1)!] : []));
  return {
    firstT: state.firstT ?? (times.length > 0 ? Math.min(...times) : null),
    lastT: times.length > 0 ? Math.max(...times) : state.lastT,
    lastById,
    resumedAt: resumed.at(-1) ?? state.resumedAt,
    open: found.open,
    done: [...state.done, ...found.done],
    places: placesAfter(state.places, block, record),
  };
}

/** Silences that only `asOf` shows: by the worker's heartbeat, now is later than any reading. */
function silentAsOf(state: SilencesState, site: SiteHistory, asOf: number): Silence[] {
  const { firstT, lastT } = state;
  if (firstT === null || lastT === null) return [];
  const record = recordAt(site, asOf);
  const limitMs = silenceMs(record);
  const silence = (kind: Silence['kind'], id: string, start: number, from: number, neverHeard: boolean): Silence => ({
    kind,
    id,
    start,
    detectedAt: from + limitMs,
    end: null,
    limitMs,
    neverHeard,
    inGridLoss: id === 'site' && wasOffAt(state.places, record, start),
  });
  if (asOf - lastT >= limitMs) return [silence('site_silent', 'site', lastT, lastT, false)];
  const named = [
    ...record.units.map(({ id }) => ({ id, kind: 'unit_silent' as const })),
    ...record.packs.map(({ id }) => ({ id, kind: 'pack_silent' as const })),
  ];
  return named.flatMap(({ id, kind }) => {
    if (state.open[id] !== undefined) return [];
    const last = state.lastById[id];
    const since = recordedSince(site, id);
    const start = last ?? Math.max(firstT, since ?? firstT);
    const grace = last === undefined && since !== null ? FIRST_WORD_MS : 0;
    const from = Math.max(start + grace, state.resumedAt ?? start);
    return asOf - from >= limitMs ? [silence(kind, id, start, from, last === undefined)] : [];
  });
}

function findingOf(silence: Silence, site: string): Finding {
  const kind: FindingKind = silence.kind;
  return {
    site,
    kind,
    subject: silence.id,
    start: epochMs(silence.start),
    detectedAt: epochMs(silence.detectedAt),
    end: silence.end === null ? null : epochMs(silence.end),
    // A unit or site that nobody hears may be missing when the grid goes; of a pack the units still see the battery.
    severity: kind === 'pack_silent' ? 'plan' : 'soon',
    measure: 'time without a reading, in minutes',
    value: silence.end === null ? null : Math.round((silence.end - silence.start) / MINUTE_MS),
    baseline: null,
    limit: silence.limitMs / MINUTE_MS,
    causes: [],
    evidence: {
      last_reading: silence.neverHeard ? null : formatTime(silence.start),
      limit_s: silence.limitMs / SECOND_MS,
      // A whole site that falls silent when the grid does has lost its router or gateway, not its units.
      ...(kind === 'site_silent'
        ? { in_grid_loss: silence.inGridLoss, probably: silence.inGridLoss ? 'router without backup' : null }
        : {}),
    },
  };
}

export const silences: Analyzer<SilencesState> = {
  name: 'silences',
  version: 2,
  begin: () => ({ firstT: null, lastT: null, lastById: {}, resumedAt: null, open: {}, done: [], places: {} }),
  fold,
  answer(state, site, asOf) {
    const all = [...state.done, ...Object.values(state.open), ...silentAsOf(state, site, asOf)];
    const findings = all
      .sort((a, b) => a.start - b.start || a.detectedAt - b.detectedAt || (a.id < b.id ? -1 : 1))
      .map((silence) => findingOf(silence, site.site));
    return { findings, cannotTell: [] };
  },
};
