/** Everything about one site. */
import { z } from 'zod';
import { type Column, columnOf, type SourceKind } from '../../ingest/vocabulary/quantities.ts';
import { parseTime, T_MAX_MS, T_MIN_MS } from '../../ingest/vocabulary/time.ts';
import type { ColumnCache } from '../answers/column-cache.ts';
import { csvLines } from '../answers/csv-answer.ts';
import { eventAnswer } from '../answers/event-answer.ts';
import { type Facts, type House, recordNow, type SiteFacts } from '../answers/house.ts';
import { listedEvents } from '../answers/list-answers.ts';
import { eventAt } from '../answers/marked-events.ts';
import { readAsked, seriesAnswer } from '../answers/series-answer.ts';
import { siteAnswer } from '../answers/site-answer.ts';
import { trustAnswer } from '../answers/trust-answer.ts';
import { eventAnswerSchema, listedEventSchema, markBodySchema } from '../contract/event.ts';
import { shareAnswerSchema } from '../contract/figure.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { csvQuerySchema, seriesAnswerSchema, seriesQuerySchema } from '../contract/series.ts';
import { siteAnswerSchema } from '../contract/site.ts';
import { trustAnswerSchema } from '../contract/trust.ts';
import { type App, createApp } from '../http/app.ts';
import { badRequest, noSuchSite, ProblemError } from '../http/problem-error.ts';
import { describe, reads } from './describe.ts';

export interface RouteHouse {
  readonly house: House;
  readonly facts: Facts;
  readonly cache: ColumnCache;
}

const siteParam = z.object({ site: z.string().max(100) });
const eventParam = siteParam.extend({ start: z.string().max(40).describe('RFC 3339 or epoch ms') });

function siteOf(facts: Facts, site: string): SiteFacts {
  const own = facts.site(site);
  if (own === null) throw noSuchSite(site);
  return own;
}

function startOf(text: string): number {
  const t = /^-?\d{1,15}$/.test(text) ? Number(text) : parseTime(text);
  if (t === null) throw badRequest('the address', `"${text}" is no time`, 'write the start as 2026-04-12T17:52:00Z');
  return t;
}

const noSuchEvent = (site: string, start: string): ProblemError =>
  new ProblemError({
    id: 'no_such_event',
    where: 'the address',
    what: `${site} has no backup event that starts at ${start}`,
    remedy: 'later readings may have moved its start; the page of the site lists its events',
  });

export function siteRoutes({ house, facts, cache }: RouteHouse): App {
  const app = createApp();
  app.get(API_ROUTES.site.path, describe('The page of one site', siteAnswerSchema), reads('param', siteParam), (c) =>
    c.json(siteAnswer(house, facts, siteOf(facts, c.req.valid('param').site))),
  );
  app.get(API_ROUTES.share.path, describe('Share charts', shareAnswerSchema), reads('param', siteParam), (c) => {
    const { analysis } = siteOf(facts, c.req.valid('param').site);
    return c.json({ ...facts.version(), charts: analysis.shareCharts });
  });
  app.get(API_ROUTES.trust.path, describe('What can be trusted', trustAnswerSchema), reads('param', siteParam), (c) =>
    c.json(trustAnswer(house, facts, siteOf(facts, c.req.valid('param').site))),
  );
  app.get(API_ROUTES.event.path, describe('One backup event', eventAnswerSchema), reads('param', eventParam), (c) => {
    const { site, start } = c.req.valid('param');
    const answer = eventAnswer(house, facts, cache, siteOf(facts, site), startOf(start));
    if (answer === null) throw noSuchEvent(site, start);
    return c.json(answer);
  });
  app.put(
    API_ROUTES.mark.path,
    describe('Say what an event was', listedEventSchema),
    reads('param', eventParam),
    reads('json', markBodySchema),
    (c) => {
      const { site, start } = c.req.valid('param');
      const own = siteOf(facts, site);
      const nowMs = house.nowMs();
      const place = eventAt(own.analysis.events, startOf(start));
      if (place < 0) throw noSuchEvent(site, start);
      house.people.addMark(site, { t: own.analysis.events[place]!.start, ...c.req.valid('json'), at: nowMs });
      return c.json(listedEvents(house, own, nowMs)[place]!);
    },
  );
  return app;
}

/** Readings of one site, for charts and as CSV. */
export function readingRoutes({ house, facts, cache }: RouteHouse): App {
  const app = createApp();
  app.get(
    API_ROUTES.series.path,
    describe('Readings over time', seriesAnswerSchema),
    reads('param', siteParam),
    reads('query', seriesQuerySchema),
    (c) => {
      const { site } = c.req.valid('param');
      const { of, from, to, points } = c.req.valid('query');
      const own = siteOf(facts, site);
      if (to <= from) throw badRequest('the query, to', 'to is not after from', 'give a later to');
      const asked = readAsked(house.readings, site, of);
      if ('unknown' in asked) throw unknownQuantity(asked.unknown);
      const everyS = recordNow(own, to).sample_interval_s;
      return c.json(seriesAnswer(house.readings, cache, facts.version(), { site, from, to, points, everyS }, asked));
    },
  );
  app.get(
    API_ROUTES.readingsCsv.path,
    describe('Readings as CSV', 'text/csv'),
    reads('param', siteParam),
    reads('query', csvQuerySchema),
    (c) => {
      const { site } = c.req.valid('param');
      siteOf(facts, site);
      const { source: text, quantities, from = T_MIN_MS, to = T_MAX_MS + 1, everyMs = null } = c.req.valid('query');
      const [kind, id] = text.split('/') as [SourceKind, string];
      const source = house.readings.sources(site).find((one) => one.kind === kind && one.id === id);
      if (source === undefined)
        throw badRequest('the query, source', `${site} has no ${kind} ${id}`, 'the page of the site lists its sources');
      const columns = quantities === undefined ? null : quantities.split(',').map((name) => columnNamed(kind, name));
      const lines = csvLines(house.readings, { source, columns, from, to, everyMs });
      c.header('Content-Type', 'text/csv; charset=utf-8');
      c.header('Content-Disposition', `attachment; filename="${site}-${kind}-${id}.csv"`);
      return c.body(textStream(lines));
    },
  );
  return app;
}

const unknownQuantity = (text: string): ProblemError =>
  badRequest(
    'the query',
    `"${text}" names no quantity of its kind`,
    'write kind/id/quantity, for example unit/u1/output_power_w',
  );

function columnNamed(kind: SourceKind, name: string): Column {
  const column = columnOf(kind, name);
  if (column === undefined) throw unknownQuantity(name);
  return column;
}

/** A day's lines at a time, as fast as they are taken. */
function textStream(lines: Iterator<string>): ReadableStream<Uint8Array> {
  const encoder = new TextEncoder();
  return new ReadableStream({
    pull(controller) {
      const { done, value } = lines.next();
      if (done === true) controller.close();
      else controller.enqueue(encoder.encode(value));
    },
  });
}
