/** A problem on its way to the one place that answers it. */
import type { Problem, ProblemId } from '../contract/problem.ts';

const STATUS = {
  no_such_route: 404,
  no_such_site: 404,
  no_such_event: 404,
  no_such_finding: 404,
  bad_request: 400,
  not_allowed: 401,
  not_permitted: 403,
  wrong_origin: 403,
  too_large: 413,
  wrong_type: 415,
  too_often: 429,
  not_ready: 503,
  unexpected: 500,
} as const satisfies Record<ProblemId, number>;

export class ProblemError extends Error {
  override readonly name = 'ProblemError';
  readonly problem: Problem;
  constructor(problem: Problem, options?: { cause?: unknown }) {
    super(`${problem.where}: ${problem.what}; ${problem.remedy}`, options);
    this.problem = problem;
  }
  get status(): (typeof STATUS)[ProblemId] {
    return STATUS[this.problem.id];
  }
}

export function noSuchSite(site: string): ProblemError {
  return new ProblemError({
    id: 'no_such_site',
    where: 'the address',
    what: `no record names a site "${site}"`,
    remedy: 'the fleet lists the sites there are',
  });
}

export function badRequest(where: string, what: string, remedy: string): ProblemError {
  return new ProblemError({ id: 'bad_request', where, what, remedy });
}
