/** Findings and events over all sites, filtered, sorted, by pages. */
import type { z } from 'zod';
import type { EventsAnswer, eventsQuerySchema, ListedEvent } from '../contract/event.ts';
import type { FindingsAnswer, findingsQuerySchema, ListedFinding } from '../contract/finding.ts';
import { eventKey } from '../contract/paths.ts';
import { compareFindings } from '../views/severity.ts';
import { type Facts, type House, recordNow, type SiteFacts } from './house.ts';
import { markedEvents } from './marked-events.ts';
import { pageOf } from './page-of.ts';
import { withId } from './site-answer.ts';

type FindingsAsked = z.output<typeof findingsQuerySchema>;
type EventsAsked = z.output<typeof eventsQuerySchema>;

function chosen(
  facts: Facts,
  nowMs: number,
  { site, group }: { site?: string | undefined; group?: string | undefined },
): SiteFacts[] {
  return facts
    .sites()
    .filter(
      (own) =>
        (site === undefined || own.site === site) && (group === undefined || recordNow(own, nowMs).group === group),
    );
}

/** @returns null where the cursor is of no row */
export function findingsAnswer(house: House, facts: Facts, asked: FindingsAsked): FindingsAnswer | null {
  const nowMs = house.nowMs();
  const all = chosen(facts, nowMs, asked)
    .flatMap((own): ListedFinding[] => {
      const { name, timezone, group } = recordNow(own, nowMs);
      return own.analysis.findings.map((finding) => ({ ...withId(finding), siteName: name, zone: timezone, group }));
    })
    .filter(
      ({ end, kind, severity }) =>
        (asked.state === 'all' || (asked.state === 'open') === (end === null)) &&
        (asked.kind === undefined || asked.kind === kind) &&
        (asked.severity === undefined || asked.severity === severity),
    )
    .sort((a, b) => compareFindings(a, b) || (a.id < b.id ? -1 : 1));
  const page = pageOf(all, ({ id }) => id, asked.cursor, asked.limit);
  if (page === null) return null;
  return { ...facts.version(), now: nowMs, total: all.length, findings: page.rows, next: page.next };
}

export function listedEvents(house: House, own: SiteFacts, nowMs: number): ListedEvent[] {
  const { name, timezone } = recordNow(own, nowMs);
  return markedEvents(own.analysis.events, house.people.marks(own.site)).map((event) => ({
    ...event,
    siteName: name,
    zone: timezone,
  }));
}

/** @returns null where the cursor is of no row */
export function eventsAnswer(house: House, facts: Facts, asked: EventsAsked): EventsAnswer | null {
  const nowMs = house.nowMs();
  const all = chosen(facts, nowMs, asked)
    .flatMap((own) => listedEvents(house, own, nowMs))
    .filter(
      ({ start, end }) =>
        (asked.from === undefined || (end ?? nowMs) >= asked.from) && (asked.to === undefined || start < asked.to),
    )
    .sort((a, b) => b.start - a.start || (a.site < b.site ? -1 : 1));
  const page = pageOf(all, ({ site, start }) => `${site} ${eventKey(start)}`, asked.cursor, asked.limit);
  if (page === null) return null;
  return { ...facts.version(), now: nowMs, total: all.length, events: page.rows, next: page.next };
}
