import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { PAGES } from './_board.ts';

const KB = 1000;
const packed = (path: string): number => gzipSync(readFileSync(path), { level: 9 }).length;
const assets = readdirSync(join(PAGES, 'assets'));
const sizeOf = (name: RegExp): number =>
  assets.filter((file) => name.test(file)).reduce((sum, file) => sum + packed(join(PAGES, 'assets', file)), 0);

describe('what is sent', () => {
  test('the first page without the chart chunk is at most 40 kB', () => {
    const page = readFileSync(join(PAGES, 'index.html'), 'utf8');
    const named = [...page.matchAll(/(?:src|href)="\/([^"]+\.(?:js|css))"/g)].map(([, path]) => join(PAGES, path!));
    expect(named.length).toBeGreaterThan(1);
    const all = [join(PAGES, 'index.html'), ...named].reduce((sum, path) => sum + packed(path), 0);
    expect(all).toBeLessThan(40 * KB);
  });
  test('the chart chunk is at most 220 kB, and no page names it', () => {
    expect(sizeOf(/^echarts-.*\.js$/)).toBeGreaterThan(100 * KB);
    expect(sizeOf(/^echarts-.*\.js$/)).toBeLessThan(220 * KB);
    expect(readFileSync(join(PAGES, 'index.html'), 'utf8')).not.toContain('echarts');
  });
  test('no schema library is sent to a browser', () => {
    for (const file of assets.filter((name) => name.endsWith('.js'))) {
      expect(readFileSync(join(PAGES, 'assets', file), 'utf8'), file).not.toContain('ZodError');
    }
  });
});
