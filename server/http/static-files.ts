/** The built pages: hashed names are kept for ever, the page itself is asked for each time. */
import { readFileSync, statSync } from 'node:fs';
import { extname, join, normalize, sep } from 'node:path';
import { gzipSync } from 'node:zlib';
import type { MiddlewareHandler } from 'hono';

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.ico': 'image/x-icon',
  '.woff2': 'font/woff2',
  '.json': 'application/json',
  '.webmanifest': 'application/manifest+json',
  '.map': 'application/json',
  '.txt': 'text/plain; charset=utf-8',
};
const PACKED: ReadonlySet<string> = new Set(['.html', '.js', '.css', '.svg', '.json', '.webmanifest', '.txt']);
const HASHED = /^\/assets\//;
const YEAR_S = 31_536_000;

interface Kept {
  readonly identity: string;
  readonly plain: Uint8Array<ArrayBuffer>;
  readonly gzip: Uint8Array<ArrayBuffer> | null;
}

/** @param folder of the built pages. Addresses without a file get the page, which knows what to show. */
export function staticFiles(folder: string): MiddlewareHandler {
  const kept = new Map<string, Kept>();
  const read = (path: string): Kept | null => {
    try {
      const { size, mtimeMs } = statSync(path);
      const identity = `${size} ${mtimeMs}`;
      const own = kept.get(path);
      if (own?.identity === identity) return own;
      const plain = new Uint8Array(readFileSync(path));
      const file = { identity, plain, gzip: PACKED.has(extname(path)) ? new Uint8Array(gzipSync(plain)) : null };
      kept.set(path, file);
      return file;
    } catch {
      return null;
    }
  };
  return async (c, next) => {
    const { path } = c.req;
    if ((c.req.method !== 'GET' && c.req.method !== 'HEAD') || path.startsWith('/api/')) return next();
    const inside = fileIn(folder, path);
    const named = inside === null || path === '/' ? null : read(inside);
    // An asset that is gone is gone: the page in its place would be read as a script.
    if (named === null && (HASHED.test(path) || extname(path) !== '')) return next();
    const file = named ?? read(join(folder, 'index.html'));
    if (file === null) return next();
    const type = named === null ? TYPES['.html']! : (TYPES[extname(path)] ?? 'application/octet-stream');
    const isPacked = file.gzip !== null && /\bgzip\b/.test(c.req.header('Accept-Encoding') ?? '');
    const etag = `"${file.identity.replace(' ', '-')}"`;
    const headers = {
      'Content-Type': type,
      'Cache-Control': HASHED.test(path) ? `public, max-age=${YEAR_S}, immutable` : 'no-cache',
      ETag: etag,
      Vary: 'Accept-Encoding',
    };
    if (c.req.header('If-None-Match') === etag) return c.body(null, 304, headers);
    return c.body(
      isPacked ? file.gzip! : file.plain,
      200,
      isPacked ? { ...headers, 'Content-Encoding': 'gzip' } : headers,
    );
  };
}

/** The path inside the folder, or null for one that would lead out of it. */
function fileIn(folder: string, path: string): string | null {
  let decoded: string;
  try {
    decoded = decodeURIComponent(path);
  } catch {
    return null;
  }
  if (decoded.includes('\0')) return null;
  const root = normalize(folder + sep);
  const full = normalize(join(root, decoded));
  return full.startsWith(root) ? full : null;
}
