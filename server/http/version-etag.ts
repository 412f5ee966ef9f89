/** ETags from change numbers: an answer is known to be the same before it is made. */
import type { Context, MiddlewareHandler } from 'hono';
import { HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { Version } from '../contract/scalars.ts';

/** Does a list of ETags name this one, weak or strong? RFC 9110, section 13.1.2 */
function isNamed(etag: string, header: string): boolean {
  const opaque = (text: string): string => text.trim().replace(/^W\//, '');
  return header.trim() === '*' || header.split(',').some((one) => opaque(one) === opaque(etag));
}

/**
 * Answers 304 where the asker has what is there. Weak, because the same answer may be sent compressed or not.
 * The hour is part of it: answers that end at "now" move on with it even where nothing arrives.
 *
 * @param bootedAs differs from start to start, so that a new program never takes an old one's answers for its own
 */
export function versionEtag(version: () => Version, nowMs: () => number, bootedAs: string): MiddlewareHandler {
  return async (c: Context, next) => {
    if (c.req.method !== 'GET') return next();
    const { change, people } = version();
    const etag = `W/"${bootedAs}.${change}.${people}.${Math.floor(nowMs() / HOUR_MS)}"`;
    const asked = c.req.header('If-None-Match');
    if (asked !== undefined && isNamed(etag, asked)) {
      return c.body(null, 304, { ETag: etag, 'Cache-Control': 'private, no-cache' });
    }
    await next();
    if (c.res.status !== 200) return;
    c.res.headers.set('ETag', etag);
    c.res.headers.set('Cache-Control', 'private, no-cache');
  };
}
