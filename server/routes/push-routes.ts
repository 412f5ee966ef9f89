/** `POST /api/readings`: gateways and couriers push log lines. They bring a token of their own, not the board's. */
import type { Context } from 'hono';
import { describeRoute, resolver } from 'hono-openapi';
import type { CourierWord, PushOutcome, PushSource } from '../../ingest/sources/push/push-source.ts';
import type { Pusher } from '../../ingest/sources/push/push-tokens.ts';
import { packingOf } from '../../ingest/sources/push/unpack-body.ts';
import { API_ROUTES } from '../contract/paths.ts';
import { problemSchema } from '../contract/problem.ts';
import { COURIER_HEADERS, type PushAnswer, pushAnswerSchema } from '../contract/push.ts';
import { type App, createApp } from '../http/app.ts';
import { ProblemError } from '../http/problem-error.ts';
import { isBoardToken } from '../http/token-gate.ts';

export interface PushRouting {
  /** As the configuration stands now; null: it names no push source. */
  readonly source: () => PushSource | null;
  /** The board's own token; null: none is configured, and the server listens on loopback only. */
  readonly token: string | null;
  readonly nowMs: () => number;
  readonly report: (error: unknown) => void;
}

/** What log lines may call themselves. `curl` says the last where it is told nothing. */
const TYPES = /^(application\/(x-ndjson|ndjson|jsonl|json|octet-stream|x-www-form-urlencoded)|text\/plain)\s*(;|$)/i;
const NAME = /^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/;
/** A clock that is further off than a century says nothing. */
const OFFSET_MAX_MS = 4e12;

const DESCRIPTION = describeRoute({
  summary: 'Push log lines',
  description:
    'NDJSON, one reading a line. Good lines are stored, others are refused one by one. A body that does not arrive whole stores nothing. The same body may be sent again: a reading that is there is one reading.',
  requestBody: {
    required: true,
    content: { 'application/x-ndjson': { schema: { type: 'string' } } },
  },
  responses: {
    200: {
      description: 'What became of the lines',
      content: { 'application/json': { schema: resolver(pushAnswerSchema) } },
    },
    default: {
      description: '400, 401, 403, 404, 413, 415, 429 or 503: what is wrong, and what to do',
      content: { 'application/json': { schema: resolver(problemSchema) } },
    },
  },
});

/** Stands before the board's own gates: its token is another one, and its bodies are no JSON. */
export function pushRoutes({ source, token, nowMs, report }: PushRouting): App {
  const app = createApp();
  app.post(API_ROUTES.push.path, DESCRIPTION, async (c) => {
    refuseBrowsers(c);
    const push = source();
    if (push === null) throw noPush();
    const pusher = pusherOf(c, push, token);
    if (!TYPES.test(c.req.header('Content-Type') ?? 'text/plain'))
      throw wrongType(`its body is "${c.req.header('Content-Type')}"`, 'send "Content-Type: application/x-ndjson"');
    const packing = packingOf(c.req.header('Content-Encoding'));
    if (packing === null)
      throw wrongType(
        `its body is packed as "${c.req.header('Content-Encoding')}"`,
        'pack it with gzip or zstd, or not at all',
      );
    const bytes = bytesOf(c.req.raw.body);
    const outcome = await push.take(pusher, { bytes, packing }, courierWord(c));
    c.header('Cache-Control', 'no-store');
    if ('failed' in outcome) throw failure(c, outcome, report);
    const { stored, alreadyThere, refused, refusedCount } = outcome;
    const answer: PushAnswer = {
      stored,
      already_there: alreadyThere,
      refused,
      refused_count: refusedCount,
      now: nowMs(),
    };
    return c.json(answer);
  });
  return app;
}

/** A page of somebody else can't read answers, but without tokens it could write. */
function refuseBrowsers(c: Context): void {
  const site = c.req.header('Sec-Fetch-Site');
  if (site === undefined && c.req.header('Origin') === undefined) return;
  throw new ProblemError({
    id: 'wrong_origin',
    where: 'the request',
    what: 'it comes from a page in a browser',
    remedy: 'push from a program: gateways and couriers write here',
  });
}

function pusherOf(c: Context, { pusherOf: find }: PushSource, boardToken: string | null): Pusher {
  const bearer = /^Bearer +(.+?) *$/i.exec(c.req.header('Authorization') ?? '')?.[1];
  const isBoards = bearer !== undefined && boardToken !== null && isBoardToken(bearer, boardToken);
  if (find === null) {
    if (boardToken === null || isBoards) return { name: 'whoever may use the board', sites: null };
    throw notAllowed(c, bearer, 'send "Authorization: Bearer …" with the token that listen.token_env names');
  }
  const pusher = bearer === undefined ? null : find(bearer);
  if (pusher !== null) return pusher;
  if (isBoards) {
    throw new ProblemError({
      id: 'not_permitted',
      where: 'the token',
      what: 'it opens the board, and may not write readings',
      remedy: 'push with a token of the push source, which names the sites it may write',
    });
  }
  throw notAllowed(c, bearer, 'send "Authorization: Bearer …" with the token of this gateway, from the push source');
}

function notAllowed(c: Context, bearer: string | undefined, remedy: string): ProblemError {
  c.header('WWW-Authenticate', 'Bearer realm="readings"');
  const what = bearer === undefined ? 'the request has no token' : 'the token is not known';
  return new ProblemError({ id: 'not_allowed', where: 'the request', what, remedy });
}

const wrongType = (what: string, remedy: string): ProblemError =>
  new ProblemError({ id: 'wrong_type', where: 'the request', what, remedy });

const noPush = (): ProblemError =>
  new ProblemError({
    id: 'no_such_route',
    where: 'the address',
    what: 'this server takes no pushed readings',
    remedy: 'add a source to the configuration: { kind: push, tokens: [...] }',
  });

function courierWord(c: Context): CourierWord | null {
  const name = c.req.header(COURIER_HEADERS.name);
  if (name === undefined || !NAME.test(name)) return null;
  const text = c.req.header(COURIER_HEADERS.offset) ?? '';
  const offsetMs = /^-?\d{1,13}$/.test(text) && Math.abs(Number(text)) <= OFFSET_MAX_MS ? Number(text) : null;
  return { name, offsetMs };
}

function failure(
  c: Context,
  outcome: Extract<PushOutcome, { failed: unknown }>,
  report: (error: unknown) => void,
): ProblemError {
  const where = 'the body';
  const nothing = 'nothing of it was stored';
  switch (outcome.failed) {
    case 'large':
      return new ProblemError({
        id: 'too_large',
        where,
        what: `it is larger than 16 MB, packed or not; ${nothing}`,
        remedy: 'send fewer lines at once',
      });
    case 'damaged':
      return new ProblemError({
        id: 'bad_request',
        where,
        what: `what it is packed with is damaged or ends early; ${nothing}`,
        remedy: 'pack it again and send it whole',
      });
    case 'cut':
      return new ProblemError({
        id: 'bad_request',
        where,
        what: `it broke off on the way; ${nothing}`,
        remedy: 'send it again: what is there already is stored once',
      });
    case 'often':
      c.header('Retry-After', String(Math.max(1, Math.ceil(outcome.againInS))));
      return new ProblemError({
        id: 'too_often',
        where: 'the token',
        what: 'it is used too often',
        remedy: `wait ${Math.max(1, Math.ceil(outcome.againInS))} s, and send more lines at once`,
      });
    case 'stopping':
      c.header('Retry-After', '5');
      return new ProblemError({
        id: 'not_ready',
        where: 'the server',
        what: 'it is being stopped',
        remedy: 'send it again in a while',
      });
    case 'disk':
      report(outcome.error);
      c.header('Retry-After', '30');
      return new ProblemError(
        {
          id: 'not_ready',
          where: 'the store',
          what: 'the readings could not all be written to disk',
          remedy: 'send the body again later: what is there already is stored once',
        },
        { cause: outcome.error },
      );
  }
}

async function* bytesOf(body: ReadableStream<Uint8Array> | null): AsyncGenerator<Uint8Array> {
  if (body === null) return;
  const reader = body.getReader();
  try {
    for (;;) {
      const { done, value } = await reader.read();
      if (done) return;
      yield value;
    }
  } finally {
    reader.releaseLock();
  }
}
