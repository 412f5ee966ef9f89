/** The one place that answers errors: every error leaves in one shape, with nothing of the request in it but names. */
import type { Context } from 'hono';
import { HTTPException } from 'hono/http-exception';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import type { Problem } from '../contract/problem.ts';
import { ProblemError } from './problem-error.ts';

/** @param report told of errors that nobody expected */
export function answerError(report: (error: unknown) => void): (error: Error, c: Context) => Response {
  return (error, c) => {
    if (error instanceof ProblemError) return c.json(error.problem, error.status);
    if (error instanceof NeedsOperator) {
      report(error);
      return c.json({ id: 'not_ready', ...error.refusal } satisfies Problem, 503);
    }
    // The framework's own refusals, such as a body that is no JSON.
    if (error instanceof HTTPException && error.status < 500) {
      const problem = {
        what: 'the request can not be read',
        where: 'the body',
        remedy: 'send JSON as the API description says',
      };
      return c.json({ id: 'bad_request', ...problem } satisfies Problem, 400);
    }
    report(error);
    const problem = {
      what: 'the answer could not be made',
      where: 'the server',
      remedy: 'what is stored is safe; ask again, and if it stays so, look at what the server printed',
    };
    return c.json({ id: 'unexpected', ...problem } satisfies Problem, 500);
  };
}

export function answerNoRoute(c: Context): Response {
  const problem = {
    what: `there is no ${c.req.method} ${c.req.path}`,
    where: 'the address',
    remedy: '/api/openapi.json lists the addresses there are',
  };
  return c.json({ id: 'no_such_route', ...problem } satisfies Problem, 404);
}
