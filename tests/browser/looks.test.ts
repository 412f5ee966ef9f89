import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { OUT, type ServedBoard, serveBoard } from './_board.ts';
import { axeViolations, chartsDrawn, openBrowser, openPage } from './_browser.ts';
import { everyPage, type NamedPage } from './_pages.ts';

const SHOTS = join(OUT, 'shots');
const LOOKS = ([1440, 390] as const).flatMap((width) =>
  (['light', 'dark'] as const).map((theme) => ({ width, theme })),
);

let board: ServedBoard;
let browser: Browser;
let pages: readonly NamedPage[];
beforeAll(async () => {
  mkdirSync(SHOTS, { recursive: true });
  board = await serveBoard();
  browser = await openBrowser();
  pages = await everyPage(board.url);
}, 180_000);
afterAll(async () => {
  await browser.close();
  await board.close();
});

describe.each(LOOKS)('at $width px, $theme', (looks) => {
  test('every page has its answer as the first line, fits its width, passes axe, and is kept as a picture', async () => {
    for (const { name, path } of pages) {
      const page = await openPage(browser, { ...looks, isForAxe: true });
      await page.goto(board.url + path);
      await page.getByRole('heading', { level: 1 }).waitFor();
      await chartsDrawn(page);
      const heading = (await page.getByRole('heading', { level: 1 }).textContent())?.trim();
      expect(heading, name).toMatch(/^\S.{10,}\.$/s);
      expect(await page.evaluate(() => document.documentElement.scrollWidth), `width of ${name}`).toBe(looks.width);
      expect(await axeViolations(page), `axe on ${name}`).toEqual([]);
      expect(page.faults, `errors on ${name}`).toEqual([]);
      await page.screenshot({ path: join(SHOTS, `${name}-${looks.width}-${looks.theme}.png`), fullPage: true });
      await page.close();
    }
  }, 180_000);
});
