/** Who may ask at all, until there are accounts: whoever has the token, where one is configured. */
import { createHash, timingSafeEqual } from 'node:crypto';
import type { MiddlewareHandler } from 'hono';
import { getCookie, setCookie } from 'hono/cookie';
import { ProblemError } from './problem-error.ts';

const COOKIE = 'kilter_token';
/** Seconds: after it the address with the token is opened again. */
const COOKIE_AGE_S = 90 * 86_400;

const digest = (text: string): Buffer => createHash('sha256').update(text).digest();
/** Takes as long for a wrong text as for a right one. */
const isSame = (a: string, b: string): boolean => timingSafeEqual(digest(a), digest(b));
/** Whether a bearer brings the token that opens the board. */
export const isBoardToken = isSame;
/** The cookie holds the token's hash, not the token. */
const cookieValue = (token: string): string => digest(`cookie ${token}`).toString('hex');

const REFUSED = {
  id: 'not_allowed',
  where: 'this server',
  what: 'the request has no valid token',
  remedy:
    'open the board once as /?token=…, or send "Authorization: Bearer …"; the token is the one that listen.token_env names',
} as const;

/** Open to all, so that whoever watches the process needs no token; they tell nothing of sites. */
const OPEN: ReadonlySet<string> = new Set(['/healthz', '/readyz']);

/** @param token null: no token is configured, and the server listens on loopback only */
export function tokenGate(token: string | null): MiddlewareHandler {
  return async (c, next) => {
    if (token === null || OPEN.has(c.req.path)) return next();
    const asked = c.req.query('token');
    if (asked !== undefined && c.req.path === '/' && isSame(asked, token)) {
      const isSecure = new URL(c.req.url).protocol === 'https:';
      const options = {
        httpOnly: true,
        sameSite: 'Strict',
        secure: isSecure,
        path: '/',
        maxAge: COOKIE_AGE_S,
      } as const;
      setCookie(c, COOKIE, cookieValue(token), options);
      // Away from an address that holds the token.
      return c.redirect('/', 303);
    }
    const bearer = /^Bearer (.+)$/.exec(c.req.header('Authorization') ?? '')?.[1];
    if (bearer !== undefined && isSame(bearer, token)) return next();
    const cookie = getCookie(c, COOKIE);
    if (cookie !== undefined && isSame(cookie, cookieValue(token))) return next();
    throw new ProblemError(REFUSED);
  };
}
