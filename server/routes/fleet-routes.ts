/** What goes over all sites: the fleet, findings, events. */
import { z } from 'zod';
import { createFleetBoard, type FleetBoard } from '../answers/fleet-answer.ts';
import { eventsAnswer, findingsAnswer } from '../answers/list-answers.ts';
import { findingAnswer } from '../answers/site-answer.ts';
import { eventsAnswerSchema, eventsQuerySchema } from '../contract/event.ts';
import { findingsAnswerSchema, findingsQuerySchema } from '../contract/finding.ts';
import { siteOfFindingId } from '../contract/finding-id.ts';
import { fleetAnswerSchema } from '../contract/fleet.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { findingAnswerSchema } from '../contract/site.ts';
import { type App, createApp } from '../http/app.ts';
import { badRequest, ProblemError } from '../http/problem-error.ts';
import { describe, reads } from './describe.ts';
import type { RouteHouse } from './site-routes.ts';

const staleCursor = (): ProblemError =>
  badRequest('the query, cursor', 'the list is no longer the one the cursor came from', 'ask for the first page again');

export function fleetRoutes({ house, facts }: RouteHouse, board: FleetBoard = createFleetBoard(house, facts)): App {
  const app = createApp();
  app.get(API_ROUTES.fleet.path, describe('All sites, as columns', fleetAnswerSchema), (c) => c.json(board.answer()));
  app.get(
    API_ROUTES.findings.path,
    describe('Findings of all sites', findingsAnswerSchema),
    reads('query', findingsQuerySchema),
    (c) => {
      const answer = findingsAnswer(house, facts, c.req.valid('query'));
      if (answer === null) throw staleCursor();
      return c.json(answer);
    },
  );
  app.get(
    API_ROUTES.events.path,
    describe('Backup events of all sites', eventsAnswerSchema),
    reads('query', eventsQuerySchema),
    (c) => {
      const answer = eventsAnswer(house, facts, c.req.valid('query'));
      if (answer === null) throw staleCursor();
      return c.json(answer);
    },
  );
  app.get(
    API_ROUTES.finding.path,
    describe('One finding', findingAnswerSchema),
    reads('param', z.object({ id: z.string().max(400) })),
    (c) => {
      const { id } = c.req.valid('param');
      const own = facts.site(siteOfFindingId(id) ?? '');
      const answer = own === null ? null : findingAnswer(house, facts, own, id);
      if (answer === null) throw noSuchFinding(id);
      return c.json(answer);
    },
  );
  return app;
}

const noSuchFinding = (id: string): ProblemError =>
  new ProblemError({
    id: 'no_such_finding',
    where: 'the address',
    what: `there is no finding "${id}"`,
    remedy: 'later readings may show it no longer; the page of its site lists what is found now',
  });
