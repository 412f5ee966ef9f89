import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createApp } from '../../../server/http/app.ts';
import { staticFiles } from '../../../server/http/static-files.ts';

let folder = '';
const app = createApp();
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-pages-'));
  mkdirSync(join(folder, 'web', 'assets'), { recursive: true });
  writeFileSync(join(folder, 'secret.txt'), 'secret');
  writeFileSync(join(folder, 'web', 'index.html'), '<!doctype html><title>Kilter</title>');
  writeFileSync(join(folder, 'web', 'assets', 'app-1a2b.js'), 'export const a = 1;');
  app.use(staticFiles(join(folder, 'web')));
});
afterAll(() => rmSync(folder, { recursive: true }));

describe('staticFiles', () => {
  test('hashed names are kept for ever, the page is asked for each time', async () => {
    const asset = await app.request('/assets/app-1a2b.js');
    expect(asset.headers.get('Cache-Control')).toContain('immutable');
    expect(asset.headers.get('Content-Type')).toContain('text/javascript');
    const page = await app.request('/');
    expect(page.headers.get('Cache-Control')).toBe('no-cache');
    const again = await app.request('/', { headers: { 'If-None-Match': page.headers.get('ETag')! } });
    expect(again.status).toBe(304);
  });

  test('an address of a page is the page; a file that is gone is gone', async () => {
    expect(await (await app.request('/sites/millpond')).text()).toContain('<title>Kilter</title>');
    expect((await app.request('/assets/app-gone.js')).status).toBe(404);
    expect((await app.request('/favicon.ico')).status).toBe(404);
    expect((await app.request('/api/nothing')).status).toBe(404);
  });

  test('nothing outside the folder is served', async () => {
    for (const path of [
      '/..%2fsecret.txt',
      '/%2e%2e/secret.txt',
      '/assets/..%2f..%2fsecret.txt',
      '/%00',
      '/%E0%A4%A',
    ]) {
      expect(await (await app.request(path)).text(), path).not.toContain('secret');
    }
  });

  test('packed where the browser takes it', async () => {
    const packed = await app.request('/assets/app-1a2b.js', { headers: { 'Accept-Encoding': 'br, gzip' } });
    expect(packed.headers.get('Content-Encoding')).toBe('gzip');
  });
});
