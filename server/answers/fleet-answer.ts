/** The fleet's columns: one part a site, kept while neither its readings nor its answer nor its marks change. */
import { MEASURES, type ProvenFigure } from '../../ingest/vocabulary/figure.ts';
import type { Finding } from '../../ingest/vocabulary/finding.ts';
import { columnOf, fromStored } from '../../ingest/vocabulary/quantities.ts';
import { DAY_MS, HOUR_MS, SECOND_MS } from '../../ingest/vocabulary/time.ts';
import type { ApiEvent } from '../contract/event.ts';
import type { FleetAnswer, FleetFinding } from '../contract/fleet.ts';
import { FLEET_CODES } from '../contract/read-fleet.ts';
import { OLD_FIGURE_MS } from '../views/beam.ts';
import { SAID_EVIDENCE } from '../views/say-finding.ts';
import { compareFindings } from '../views/severity.ts';
import { type Facts, type House, recordNow, type SiteFacts } from './house.ts';
import { markedEvents } from './marked-events.ts';

const DAYS = 30;
const SOC = columnOf('pack', 'soc_pct')!;

/** What a site brings to the fleet, times absolute, so that it can be kept. */
interface SitePart {
  readonly facts: SiteFacts;
  readonly events: readonly ApiEvent[];
  readonly heardAt: number | null;
  readonly chargePct: readonly (number | null)[];
  readonly chargeAt: number | null;
}

export interface FleetBoard {
  answer(): FleetAnswer;
}

export function createFleetBoard(house: House, facts: Facts): FleetBoard {
  const parts = new Map<string, SitePart>();
  let readAt = { change: -1, people: -1 };
  return {
    answer() {
      const version = facts.version();
      const nowMs = house.nowMs();
      const stale = staleSites(house, readAt, version);
      const sites = facts.sites();
      for (const site of sites) {
        const own = parts.get(site.site);
        if (own?.facts === site && stale !== 'all' && !stale.has(site.site)) continue;
        parts.set(site.site, readPart(house, site, nowMs));
      }
      readAt = version;
      return columnsOf(
        sites.map(({ site }) => parts.get(site)!),
        version,
        nowMs,
      );
    },
  };
}

function staleSites(
  { reads }: House,
  readAt: { readonly change: number; readonly people: number },
  version: { readonly change: number; readonly people: number },
): 'all' | ReadonlySet<string> {
  // Marks are few and rare: all parts are read again.
  if (readAt.change < 0 || readAt.people !== version.people) return 'all';
  return readAt.change === version.change ? new Set() : new Set(reads.changedSites(readAt.change));
}

function readPart(house: House, facts: SiteFacts, nowMs: number): SitePart {
  const { readings, people } = house;
  const sources = readings.sources(facts.site);
  const newest = sources.map(({ source }) => readings.newestReading(source));
  const heardAt = newest.reduce<number | null>((a, t) => (t === null ? a : Math.max(a ?? t, t)), null);
  const packs = recordNow(facts, nowMs).packs.map(({ id }) => {
    const source = sources.find((one) => one.kind === 'pack' && one.id === id)?.source;
    return source === undefined ? null : newestCharge(house, source);
  });
  const chargeAt = packs.reduce<number | null>((a, pack) => (pack === null ? a : Math.max(a ?? pack.t, pack.t)), null);
  return {
    facts,
    events: markedEvents(facts.analysis.events, people.marks(facts.site)),
    heardAt,
    chargePct: packs.map((pack) => (pack === null ? null : Math.round(pack.pct))),
    chargeAt,
  };
}

/** The newest charge that a pack sent, from its newest block. */
export function newestCharge({ readings }: House, source: number): { readonly pct: number; readonly t: number } | null {
  const newest = readings.newestReading(source);
  if (newest === null) return null;
  const columns = new Set([SOC.index]);
  for (const block of readings.readBlocks(source, newest - (newest % DAY_MS), newest, { columns, extras: false })) {
    const values = block.columns[SOC.index];
    if (values === undefined) continue;
    for (let i = values.length - 1; i >= 0; i--) {
      if (!Number.isNaN(values[i]!)) return { pct: fromStored(SOC.decimals, values[i]!), t: block.tMs[i]! };
    }
  }
  return null;
}

/** Gives each distinct text a place. */
function placer<Value>(keyOf: (value: Value) => string): { readonly values: Value[]; placeOf(value: Value): number } {
  const places = new Map<string, number>();
  const values: Value[] = [];
  return {
    values,
    placeOf(value) {
      const key = keyOf(value);
      const known = places.get(key);
      if (known !== undefined) return known;
      places.set(key, values.length);
      return values.push(value) - 1;
    },
  };
}

const seconds = (ms: number): number => Math.floor(ms / SECOND_MS);
/** Between whole seconds of the clock, so that the same instant is read back the same from every answer. */
const age = (t: number | null, nowMs: number): number => (t === null ? -1 : Math.max(0, seconds(nowMs) - seconds(t)));

function columnsOf(
  parts: readonly SitePart[],
  version: { change: number; people: number },
  nowMs: number,
): FleetAnswer {
  // Whole hours, so that an answer without news stays the same for an hour.
  const from = nowMs - (nowMs % HOUR_MS) - DAYS * DAY_MS;
  const groups = placer<string>((text) => text);
  const zones = placer<string>((text) => text);
  const reasons = placer<readonly [string, boolean]>((reason) => reason.join(' '));
  const ratings = placer<readonly number[]>((list) => list.join(' '));
  const rows = parts.map((part) => {
    const record = recordNow(part.facts, nowMs);
    const open = part.facts.analysis.findings.filter(({ end }) => end === null);
    const count = (severity: Finding['severity']): number => open.filter((f) => f.severity === severity).length;
    const worst = open.filter(({ severity }) => severity !== 'info').sort(compareFindings)[0] ?? null;
    const told = furthestFigure(part.facts.analysis.figures, nowMs);
    return {
      site: record.site,
      name: record.name,
      group: record.group === null ? -1 : groups.placeOf(record.group),
      zone: zones.placeOf(record.timezone),
      units: ratings.placeOf(record.units.map(({ rated_power_w: w }) => w)),
      everyS: record.sample_interval_s,
      open: [count('urgent'), count('soon'), count('plan'), count('info')],
      worst: worst === null ? null : fleetFinding(worst, from),
      deviation: told === null ? reasons.placeOf(reasonOf(part.facts)) : deviationTuple(told),
      charge: part.chargePct,
      reserve: record.reserve_soc_pct,
      chargeAgeS: age(part.chargeAt, nowMs),
      heardAgeS: age(part.heardAt, nowMs),
      events: part.events
        .filter(({ end }) => end === null || end >= from)
        .flatMap((event) => eventNumbers(event, from)),
      silences: silencesOf(part.facts.analysis.findings, from),
    };
  });
  const column = <Key extends keyof (typeof rows)[number]>(key: Key): (typeof rows)[number][Key][] =>
    rows.map((row) => row[key]);
  return {
    ...version,
    now: nowMs,
    from,
    groups: groups.values,
    zones: zones.values,
    ratings: ratings.values,
    reasons: reasons.values,
    site: column('site'),
    name: column('name'),
    group: column('group'),
    zone: column('zone'),
    units: column('units'),
    everyS: column('everyS'),
    open: column('open'),
    worst: column('worst'),
    deviation: column('deviation'),
    charge: column('charge'),
    reserve: column('reserve'),
    chargeAgeS: column('chargeAgeS'),
    heardAgeS: column('heardAgeS'),
    events: column('events'),
    silences: column('silences'),
  };
}

type ToldFigure = ProvenFigure & { readonly then: number; readonly now: number };

/** The figure with the greatest |now − then| ÷ limit, of those that are proven and not a day old. */
function furthestFigure(figures: readonly ProvenFigure[], nowMs: number): ToldFigure | null {
  const told = figures.filter(
    (f): f is ToldFigure =>
      f.then !== null && f.now !== null && f.limit > 0 && (f.nowAt === null || nowMs - f.nowAt <= OLD_FIGURE_MS),
  );
  const ratio = ({ then, now, limit }: ToldFigure): number => Math.abs((now - then) / limit);
  return told.reduce<ToldFigure | null>((a, b) => (a === null || ratio(b) > ratio(a) ? b : a), null);
}

/** Why no deviation can be told, and whether anything is proven. A proven figure that is missing now speaks first. */
function reasonOf({ analysis, asOf }: SiteFacts): readonly [because: string, isProven: boolean] {
  if (asOf === null) return ['not analysed yet', false];
  const { figures, cannotTell } = analysis;
  const proven = figures.filter(({ then }) => then !== null);
  if (proven.length > 0)
    return [proven.find(({ because }) => because !== null)?.because ?? 'no figure of the last day', true];
  const because = figures.find((figure) => figure.because !== null)?.because ?? cannotTell[0]?.because;
  return [because ?? 'nothing of it can be held to yet', false];
}

/** Figures of the wire need no more digits than their limits tell apart. */
const short = (value: number): number => Math.round(value * 10_000) / 10_000;

function deviationTuple({ measure, mode, subject, then, now, limit }: ToldFigure): FleetAnswer['deviation'][number] {
  return [MEASURES.indexOf(measure), FLEET_CODES.modes.indexOf(mode), subject, short(then), short(now), short(limit)];
}

/** Length −1: it lasts. Lost −1: held, but outside its band. */
function eventNumbers({ start, end, held, outputLostS, occasion }: ApiEvent, from: number): number[] {
  const lost = outputLostS > 0 ? Math.max(1, Math.round(outputLostS)) : held ? 0 : -1;
  const length = end === null ? -1 : seconds(end - start);
  return [seconds(start - from), length, lost, FLEET_CODES.occasions.indexOf(occasion)];
}

function silencesOf(findings: readonly Finding[], from: number): number[] {
  return findings
    .filter(({ kind, end }) => kind === 'site_silent' && (end === null || end >= from))
    .sort((a, b) => a.start - b.start)
    .flatMap(({ start, end }) => [seconds(start - from), end === null ? -1 : seconds(end - start)]);
}

/** Kinds whose sentence says the finding's own figures without unit say their measure by themselves. */
function fleetFinding(finding: Finding, from: number): FleetFinding {
  const { kind, subject, candidates, severity, start, detectedAt, value, baseline, limit, causes } = finding;
  const evidence = saidEvidence(finding);
  const startS = seconds(start - from);
  return {
    kind,
    ...(subject === null ? {} : { subject }),
    ...(candidates === undefined ? {} : { candidates: [...candidates] }),
    severity,
    start: startS,
    detected: seconds(detectedAt - from) - startS,
    ...(value === null ? {} : { value }),
    ...(baseline === null ? {} : { baseline }),
    ...(limit === null ? {} : { limit }),
    ...(causes.length === 0
      ? {}
      : { causes: causes.slice(0, 1).map(({ cause, weight }): [string, number] => [cause, weight]) }),
    ...(Object.keys(evidence).length === 0 ? {} : { evidence }),
  };
}

function saidEvidence({ kind, evidence }: Finding): Finding['evidence'] {
  const keys = (SAID_EVIDENCE[kind] ?? []).flatMap((key) =>
    key === '*' && Array.isArray(evidence.settings) ? evidence.settings.map(String) : [key],
  );
  return Object.fromEntries(keys.flatMap((key) => (evidence[key] === undefined ? [] : [[key, evidence[key]]])));
}
