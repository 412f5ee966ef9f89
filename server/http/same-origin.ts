/** Writes come from our own pages or from programs, never from a page of somebody else. */
import type { MiddlewareHandler } from 'hono';
import { ProblemError } from './problem-error.ts';

const SAFE: ReadonlySet<string> = new Set(['GET', 'HEAD', 'OPTIONS']);
const JSON_TYPE = /^application\/json\s*(;|$)/i;

/**
 * Browsers say where a request comes from: `Sec-Fetch-Site`, and `Origin` on every unsafe method. Programs say neither.
 * Bodies are JSON only, which a plain form can't send.
 */
export const sameOrigin: MiddlewareHandler = async (c, next) => {
  if (SAFE.has(c.req.method)) return next();
  const refuse = (what: string, remedy: string): never => {
    throw new ProblemError({ id: 'wrong_origin', where: 'the request', what, remedy });
  };
  const site = c.req.header('Sec-Fetch-Site');
  if (site !== undefined && site !== 'same-origin')
    refuse(`it comes from a page of another origin (${site})`, 'write from the board itself');
  const origin = c.req.header('Origin');
  const host = c.req.header('Host') ?? new URL(c.req.url).host;
  if (origin !== undefined && hostOf(origin) !== host)
    refuse(`it comes from ${origin}`, `write from the board at ${host}`);
  if (!JSON_TYPE.test(c.req.header('Content-Type') ?? ''))
    refuse('its body is no JSON', 'send "Content-Type: application/json"');
  return next();
};

function hostOf(origin: string): string | null {
  return URL.canParse(origin) ? new URL(origin).host : null;
}

/** A name of the host that is not ours would let a page of elsewhere read answers through a name that points here. */
export function knownHost(isKnown: (host: string) => boolean): MiddlewareHandler {
  return (c, next) => {
    const host = c.req.header('Host');
    if (host === undefined || isKnown(host)) return next();
    throw new ProblemError({
      id: 'wrong_origin',
      where: 'the request',
      what: `the server is asked as ${host}, which is not its name`,
      remedy: 'open the address that the server printed when it started',
    });
  };
}
