/** The page of one site, and of one of its findings. */
import { recordAt } from '../../ingest/site/history.ts';
import type { SiteHistory } from '../../ingest/site/record.ts';
import type { StoredSource } from '../../ingest/store/reading-store.ts';
import type { Finding } from '../../ingest/vocabulary/finding.ts';
import { COLUMNS } from '../../ingest/vocabulary/quantities.ts';
import { DAY_MS, dayOf } from '../../ingest/vocabulary/time.ts';
import type { ApiFinding } from '../contract/finding.ts';
import { findingId } from '../contract/finding-id.ts';
import type { ApiSource, FindingAnswer, SiteAnswer } from '../contract/site.ts';
import { compareFindings } from '../views/severity.ts';
import { coverOf } from './cover-answer.ts';
import { newestCharge } from './fleet-answer.ts';
import type { Facts, House, SiteFacts } from './house.ts';
import { markedEvents } from './marked-events.ts';
import { siteSettings } from './settings-answer.ts';

const WEEK_MS = 7 * DAY_MS;
/** A chart of a finding begins this much before it, so that the time before is seen, too. */
const LEAST_BEFORE_MS = 3 * DAY_MS;

export const withId = (finding: Finding): ApiFinding => ({ id: findingId(finding), ...finding });

/** Whether any document of a site names a source; a bank needs no name. */
export function namedIn({ documents }: SiteHistory): (source: Pick<StoredSource, 'kind' | 'id'>) => boolean {
  const named = new Set(
    documents.flatMap(({ units, packs, meters }) => [
      ...units.map(({ id }) => `unit ${id}`),
      ...packs.map(({ id }) => `pack ${id}`),
      ...meters.map(({ id }) => `meter ${id}`),
    ]),
  );
  return ({ kind, id }) => kind === 'bank' || named.has(`${kind} ${id}`);
}

function sourceOf({ readings }: House, isNamed: (s: StoredSource) => boolean, source: StoredSource): ApiSource {
  const newestAt = readings.newestReading(source.source);
  const day = newestAt === null ? null : dayOf(newestAt);
  const sent = day === null ? [] : (readings.summaries(source.source, day, day)[0]?.columns ?? []);
  return {
    kind: source.kind,
    id: source.id,
    isRecorded: isNamed(source),
    newestAt,
    quantities: sent.map(({ column }) => COLUMNS[source.kind][column]!.id),
  };
}

export function siteAnswer(house: House, facts: Facts, own: SiteFacts): SiteAnswer {
  const { readings, reads, people } = house;
  const nowMs = house.nowMs();
  const record = recordAt(own.history, nowMs);
  const sources = readings.sources(own.site);
  const counts = sources.flatMap(({ source }) => reads.sourceCounts(source) ?? []);
  const settings = siteSettings(readings, own.site);
  const { findings, events, figures, cannotTell } = own.analysis;
  const marked = markedEvents(events, people.marks(own.site));
  const firstAt = counts.length === 0 ? null : Math.min(...counts.map(({ tFirst }) => tFirst));
  const newestAt = counts.length === 0 ? null : Math.max(...counts.map(({ tLast }) => tLast));
  return {
    ...facts.version(),
    now: nowMs,
    record,
    recordsFrom: own.history.documents.map(({ validFrom }) => validFrom),
    firstAt,
    newestAt,
    figures,
    cannotTell,
    findings: findings.map(withId).sort(compareFindings),
    events: marked,
    settings: settings.inForce,
    settingChanges: settings.changes,
    sources: sources.map((source) => sourceOf(house, namedIn(own.history), source)),
    packs: record.packs.map(({ id }) => {
      const source = sources.find((one) => one.kind === 'pack' && one.id === id)?.source;
      const newest = source === undefined ? null : newestCharge(house, source);
      return { pack: id, socPct: newest?.pct ?? null, at: newest?.t ?? null };
    }),
    cover: coverOf(own.analysis, marked, firstAt, newestAt),
  };
}

/** @returns null where the site has no finding of that id */
export function findingAnswer(house: House, facts: Facts, own: SiteFacts, id: string): FindingAnswer | null {
  const finding = own.analysis.findings.find((one) => findingId(one) === id);
  if (finding === undefined) return null;
  const nowMs = house.nowMs();
  const to = finding.end ?? Math.max(nowMs, finding.start);
  const whom = new Set([finding.subject, ...(finding.candidates ?? [])]);
  return {
    ...facts.version(),
    now: nowMs,
    record: recordAt(own.history, finding.detectedAt),
    finding: withId(finding),
    figures: own.analysis.figures.filter(({ subject }) => whom.has(subject) || whom.has('site')),
    events: markedEvents(own.analysis.events, house.people.marks(own.site)).filter(
      ({ start, end }) => start <= to && (end ?? to) >= finding.start,
    ),
    settingChanges: siteSettings(house.readings, own.site).changes.filter(
      ({ t }) => Math.abs(t - finding.start) <= WEEK_MS,
    ),
    window: { from: finding.start - Math.max(LEAST_BEFORE_MS, (to - finding.start) / 3), to },
  };
}
