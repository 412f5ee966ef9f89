/** One table of types: what each route is asked and what it answers. A client is typed by it. */
import type { DemoAnswer, EndFaults, StartFault } from './demo.ts';
import type { EventAnswer, EventsAnswer, EventsQuery, ListedEvent, MarkBody } from './event.ts';
import type { ShareAnswer } from './figure.ts';
import type { FindingsAnswer, FindingsQuery } from './finding.ts';
import type { FleetAnswer } from './fleet.ts';
import type { LiveChange } from './live.ts';
import type { RouteName } from './paths.ts';
import type { PushAnswer } from './push.ts';
import type { CsvQuery, SeriesAnswer, SeriesQuery } from './series.ts';
import type { FindingAnswer, SiteAnswer } from './site.ts';
import type { SourcesAnswer } from './sources.ts';
import type { TrustAnswer } from './trust.ts';

interface Asked {
  readonly query: object;
  readonly body: object | null;
  readonly answer: unknown;
}

/** Errors of every route are a `Problem` (problem.ts). `site` that is unknown: 404. */
export interface ApiTypes extends Record<RouteName, Asked> {
  readonly fleet: { query: Record<never, never>; body: null; answer: FleetAnswer };
  readonly site: { query: Record<never, never>; body: null; answer: SiteAnswer };
  readonly share: { query: Record<never, never>; body: null; answer: ShareAnswer };
  readonly series: { query: SeriesQuery; body: null; answer: SeriesAnswer };
  /** text/csv */
  readonly readingsCsv: { query: CsvQuery; body: null; answer: string };
  readonly trust: { query: Record<never, never>; body: null; answer: TrustAnswer };
  readonly events: { query: EventsQuery; body: null; answer: EventsAnswer };
  readonly event: { query: Record<never, never>; body: null; answer: EventAnswer };
  /** JSON only, from the same origin. */
  readonly mark: { query: Record<never, never>; body: MarkBody; answer: ListedEvent };
  readonly findings: { query: FindingsQuery; body: null; answer: FindingsAnswer };
  readonly finding: { query: Record<never, never>; body: null; answer: FindingAnswer };
  readonly sources: { query: Record<never, never>; body: null; answer: SourcesAnswer };
  readonly demo: { query: Record<never, never>; body: null; answer: DemoAnswer };
  readonly demoStart: { query: Record<never, never>; body: StartFault; answer: DemoAnswer };
  readonly demoEnd: { query: Record<never, never>; body: EndFaults; answer: DemoAnswer };
  /** NDJSON, with a token of the push source. */
  readonly push: { query: Record<never, never>; body: null; answer: PushAnswer };
  /** text/event-stream of these. */
  readonly live: { query: Record<never, never>; body: null; answer: LiveChange };
  readonly openapi: { query: Record<never, never>; body: null; answer: object };
}

export type Answer<Name extends RouteName> = ApiTypes[Name]['answer'];
export type Query<Name extends RouteName> = ApiTypes[Name]['query'];
