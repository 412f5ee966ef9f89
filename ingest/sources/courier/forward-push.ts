/** Sends by `POST /api/readings`. Each answer also tells how far our clock is off. */
import { promisify } from 'node:util';
import { gzip } from 'node:zlib';
import { z } from 'zod';
import { SECOND_MS } from '../../vocabulary/time.ts';
import type { ClockWatch } from './clock-watch.ts';
import type { PushForward } from './courier-config.ts';
import type { Forwarder, SendOutcome } from './forwarder.ts';

const pack = promisify(gzip);
/** A poor link gets a chunk of a few hundred packed lines through in this. */
const ANSWER_WITHIN_MS = 30 * SECOND_MS;
/** A mistake that a person must mend is asked about again, but not often. */
const REFUSED_REST_MS = 30 * SECOND_MS;

const answerSchema = z.object({
  refused_count: z.number().optional(),
  refused: z.array(z.object({ line: z.number(), what: z.string(), remedy: z.string() })).optional(),
  now: z.number().optional(),
});
const problemSchema = z.object({ what: z.string(), remedy: z.string() });

export interface PushHouse {
  readonly clock: ClockWatch;
  /** Says who sends. */
  readonly courier: string;
  nowMs(): number;
}

export function forwardByPush({ url, token }: PushForward, { clock, courier, nowMs }: PushHouse): Forwarder {
  const headers = {
    'Content-Type': 'application/x-ndjson',
    'Content-Encoding': 'gzip',
    'Kilter-Courier': courier,
    ...(token === null ? {} : { Authorization: `Bearer ${token}` }),
  };
  const offsetHeader = (): Record<string, string> => {
    const { offsetMs } = clock.state();
    return offsetMs === null ? {} : { 'Kilter-Clock-Offset-Ms': String(offsetMs) };
  };
  return {
    name: new URL(url).host,
    start: () => undefined,
    stop: async () => undefined,
    async send(lines, signal) {
      const body = await pack(`${lines.join('\n')}\n`);
      const limit = AbortSignal.any([signal, AbortSignal.timeout(ANSWER_WITHIN_MS)]);
      const sentMs = nowMs();
      const startedMs = performance.now();
      try {
        const response = await fetch(url, {
          method: 'POST',
          body,
          headers: { ...headers, ...offsetHeader() },
          signal: limit,
          redirect: 'error',
        });
        const text = await response.text();
        const tookMs = performance.now() - startedMs;
        if (response.status !== 200) return refusedWith(response, text);
        const answer = answerSchema.safeParse(jsonOf(text));
        if (!answer.success)
          return { kind: 'later', trouble: `${url} answers, but not as a board does`, atLeastMs: REFUSED_REST_MS };
        const { now, refused_count = 0, refused = [] } = answer.data;
        if (now !== undefined) clock.measured(sentMs, tookMs, now);
        return { kind: 'taken', refusedCount: refused_count, refused };
      } catch (error) {
        return { kind: 'later', trouble: wordsOf(error), atLeastMs: 0 };
      }
    },
  };
}

function refusedWith(response: Response, text: string): SendOutcome {
  const problem = problemSchema.safeParse(jsonOf(text));
  const trouble = problem.success
    ? `the server refuses (${response.status}): ${problem.data.what}; ${problem.data.remedy}`
    : `the server answers with ${response.status}`;
  if (response.status === 413) return { kind: 'smaller', trouble };
  const again = Number(response.headers.get('Retry-After') ?? Number.NaN);
  const askedMs = Number.isFinite(again) ? Math.min(again, 3600) * SECOND_MS : 0;
  const isOurFault = response.status < 500 && response.status !== 429;
  return { kind: 'later', trouble, atLeastMs: Math.max(askedMs, isOurFault ? REFUSED_REST_MS : 0) };
}

function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

const CODES: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'nothing listens there',
  ENOTFOUND: 'there is no such name, or no name service',
  EAI_AGAIN: 'the name service does not answer',
  EHOSTUNREACH: 'there is no way to it',
  ENETUNREACH: 'there is no network',
  ECONNRESET: 'the link broke',
};

function wordsOf(error: unknown): string {
  if (!(error instanceof Error)) return String(error);
  if (error.name === 'TimeoutError') return `no answer within ${ANSWER_WITHIN_MS / SECOND_MS} s`;
  const cause = error.cause as { readonly code?: string; readonly message?: string } | undefined;
  return CODES[cause?.code ?? ''] ?? cause?.message ?? error.message;
}
