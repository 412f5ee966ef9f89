import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { FleetAnswer } from '../../server/contract/fleet.ts';
import { type ServedBoard, serveBoard } from './_board.ts';
import { chartsDrawn, openBrowser, openPage } from './_browser.ts';

let board: ServedBoard;
let browser: Browser;
beforeAll(async () => {
  board = await serveBoard();
  browser = await openBrowser();
}, 180_000);
afterAll(async () => {
  await browser.close();
  await board.close();
});

let page: Awaited<ReturnType<typeof openPage>>;
beforeEach(async () => {
  page = await openPage(browser, { width: 1440, theme: 'light' });
  return async () => {
    await page.close();
  };
});

const answer = (on: Page) => on.getByRole('heading', { level: 1 });
const plots = (on: Page) => on.getByRole('group', { name: /on one time axis/ }).first();

describe('a technician', () => {
  test('finds the site that drifted: the first row asks, its page says since when', async () => {
    await page.goto(board.url);
    const first = page.getByRole('table', { name: 'Fleet' }).getByRole('row').nth(1);
    await expect.poll(() => first.textContent()).toMatch(/urgent[\s\S]*has carried [\d.]+\s%/);
    await first.getByRole('rowheader').getByRole('link').click();
    await expect.poll(() => answer(page).textContent()).toMatch(/has carried [\d.]+\s% instead of [\d.]+\s% since/);
    await page.getByRole('link', { name: 'What it rests on' }).click();
    await page.getByRole('heading', { name: 'Probable causes' }).waitFor();
    await chartsDrawn(page);
    expect(page.faults).toEqual([]);
  });

  test('opens the newest backup event and reads whether it held', async () => {
    await page.goto(board.url);
    await page.getByRole('link', { name: 'Backup events' }).click();
    await page
      .getByRole('link', { name: /Power stayed on/ })
      .first()
      .click();
    await expect.poll(() => answer(page).textContent()).toMatch(/^Power stayed on for/);
    await page.getByText('Time left at that load').waitFor();
    await chartsDrawn(page);
    expect(page.faults).toEqual([]);
  });

  test('zooms by key and by hand, sends the address, and a colleague sees the same stretch', async () => {
    await page.goto(board.url);
    await page.getByRole('link', { name: 'Backup events' }).click();
    await page
      .getByRole('link', { name: /Power stayed on/ })
      .first()
      .click();
    await chartsDrawn(page);
    await plots(page).focus();
    await page.keyboard.press('+');
    await page.waitForURL(/from=.*&to=/);
    const byKey = page.url();
    const box = (await plots(page).boundingBox())!;
    await page.mouse.move(box.x + box.width * 0.3, box.y + 100);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.6, box.y + 100, { steps: 6 });
    await page.mouse.up();
    await page.waitForURL((url) => url.href !== byKey && url.searchParams.has('from'));
    await chartsDrawn(page);
    const other = await openPage(browser, { width: 1440, theme: 'light' });
    await other.goto(page.url());
    await chartsDrawn(other);
    const [mine, theirs] = await Promise.all([page, other].map((one) => readTable(one)));
    expect(theirs!.length).toBeGreaterThan(2);
    expect(theirs).toEqual(mine);
    await other.close();
    await plots(page).focus();
    await page.keyboard.press('0');
    await page.waitForURL((url) => !url.searchParams.has('from'));
    expect(page.faults).toEqual([]);
  });

  test('moves the cursor of a chart by key and hears the figures', async () => {
    await page.goto(board.url);
    await page.getByRole('link', { name: 'Backup events' }).click();
    await page
      .getByRole('link', { name: /Power stayed on/ })
      .first()
      .click();
    await chartsDrawn(page);
    await plots(page).focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await expect
      .poll(() => page.locator('.chart-readout[aria-live=polite]').textContent())
      .toMatch(/Output frequency\s+[\d.]+\sHz/);
  });

  test('moves through the fleet by key, filters as it is typed, and opens a row with Enter', async () => {
    await page.goto(board.url);
    await page.getByRole('table', { name: 'Fleet' }).waitFor();
    const names = await page.getByRole('rowheader').getByRole('link').allInnerTexts();
    await page.keyboard.press('j');
    await page.keyboard.press('j');
    await expect.poll(() => page.evaluate(() => document.activeElement?.textContent)).toBe(names[1]);
    await page.keyboard.press('k');
    await expect.poll(() => page.evaluate(() => document.activeElement?.textContent)).toBe(names[0]);
    await page.keyboard.press('/');
    await page.keyboard.type(names[2]!.slice(0, 6));
    await expect.poll(() => page.getByRole('rowheader').count()).toBe(1);
    expect(page.url()).toContain('q=');
    await page.keyboard.press('Escape');
    await expect.poll(() => page.getByRole('rowheader').count()).toBe(names.length);
    await page.keyboard.press('Escape');
    await page.keyboard.press('j');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/sites\//);
    await page.getByRole('heading', { name: 'Settings' }).first().waitFor();
    await page.keyboard.press('?');
    await page.getByRole('dialog', { name: 'Keys' }).waitFor();
    await page.keyboard.press('Escape');
    expect(page.faults).toEqual([]);
  });

  test('says that a backup event was a test, with a name, and the page keeps it', async () => {
    await page.goto(board.url);
    await page.getByRole('link', { name: 'Backup events' }).click();
    await page
      .getByRole('link', { name: /Power stayed on/ })
      .nth(1)
      .click();
    await page.getByRole('button', { name: /Say (what it was|otherwise)/ }).click();
    const sheet = page.getByRole('dialog', { name: 'What was it?' });
    await sheet.getByRole('radio', { name: 'test' }).check();
    await sheet.getByLabel('Your name').fill('Tova Brandl');
    await sheet.getByRole('button', { name: 'Say so' }).click();
    await page.getByText(/^Test, said Tova Brandl/).waitFor();
    await page.reload();
    await page.getByText(/^Test, said Tova Brandl/).waitFor();
    expect(page.faults).toEqual([]);
  });

  test('chooses readings, and the address names them', async () => {
    await page.goto(`${board.url}/sites/brackwater-bakery`);
    await page.locator('summary', { hasText: 'u1' }).click();
    await page
      .getByRole('checkbox', { name: /Output power W/ })
      .first()
      .check();
    await page.waitForURL(/readings=unit\/u1\/output_power_w/);
    await page.getByRole('group', { name: 'Output power on one time axis.' }).waitFor();
    const csv = page.waitForEvent('download');
    await page.getByRole('group', { name: 'Output power on one time axis.' }).scrollIntoViewIfNeeded();
    await page.locator('.explorer').getByRole('button', { name: 'CSV' }).click();
    expect((await csv).suggestedFilename()).toBe('brackwater-bakery-readings.csv');
    expect(page.faults).toEqual([]);
  });

  test('chooses a theme and UTC, and both are still there after a reload', async () => {
    await page.goto(board.url);
    await page.getByRole('button', { name: 'dark' }).click();
    await page.getByRole('button', { name: 'show UTC' }).click();
    await page.reload();
    await page.getByRole('button', { name: 'light' }).waitFor();
    expect(page.url()).toContain('time=utc');
    expect(await page.evaluate(() => getComputedStyle(document.documentElement).backgroundColor)).toBe(
      'rgb(16, 21, 24)',
    );
  });
});

describe('when something is missing', () => {
  test('a server that does not answer is said in words, and the page comes by itself when it does', async () => {
    await page.route('**/api/fleet', (route) => route.abort());
    await page.goto(board.url);
    await expect.poll(() => answer(page).textContent()).toBe('Kilter does not answer.');
    await page.unroute('**/api/fleet');
  });

  test('an answer that can not be renewed stays, and says how old it is', async () => {
    await page.goto(board.url);
    await page.getByRole('table', { name: 'Fleet' }).waitFor();
    await page.route('**/api/fleet', (route) => route.abort());
    await page.getByRole('link', { name: 'Alerts' }).click();
    await page.getByRole('link', { name: 'Fleet', exact: true }).click();
    await page.getByText(/What stands here is from .* ago/).waitFor();
    await page.getByRole('table', { name: 'Fleet' }).waitFor();
  });

  test('a site that is not there is named', async () => {
    await page.goto(`${board.url}/sites/no-such-site`);
    await expect.poll(() => answer(page).textContent()).toMatch(/no-such-site/);
  });
});

/** The rows of the first chart, as its table shows them. */
async function readTable(on: Page): Promise<string[]> {
  await plots(on).focus();
  await on.keyboard.press('Enter');
  const table = on.getByRole('table', { name: /on one time axis/ });
  await table.waitFor();
  return table.getByRole('row').allInnerTexts();
}

/** The fleet's answer again and again until it holds `count` sites, each with its own name. */
function manySites(fleet: FleetAnswer, count: number): FleetAnswer {
  const places = Array.from({ length: count }, (_, i) => i % fleet.site.length);
  const lists = Object.entries(fleet).map(([key, value]) => {
    const isList = Array.isArray(value) && !['groups', 'zones', 'ratings', 'reasons'].includes(key);
    return [key, isList ? places.map((place) => (value as readonly unknown[])[place]) : value];
  });
  const many = Object.fromEntries(lists) as FleetAnswer;
  return {
    ...many,
    site: places.map((place, i) => `${fleet.site[place]}-${i}`),
    name: places.map((place, i) => `${fleet.name[place]} ${i}`),
  };
}

/** Scrolls the whole list, a hard flick a frame. */
async function scrollToEnd(on: Page): Promise<void> {
  await on.evaluate(async () => {
    // Rows are as high as their words need, so the end moves while it is scrolled to.
    for (let y = 0; y <= document.documentElement.scrollHeight; y += 200) {
      scrollTo(0, y);
      await new Promise(requestAnimationFrame);
    }
  });
}

describe('a fleet of 1,000 sites', () => {
  test('scrolls to its end and keeps few rows in the page', async () => {
    const fleet = (await (await fetch(`${board.url}/api/fleet`)).json()) as FleetAnswer;
    await page.route('**/api/fleet', (route) => route.fulfill({ json: manySites(fleet, 1000) }));
    await page.goto(board.url);
    const table = page.getByRole('table', { name: 'Fleet' });
    await table.waitFor();
    expect(await table.getAttribute('aria-rowcount')).toBe('1001');
    await scrollToEnd(page);
    await expect.poll(() => page.getByRole('row').last().getAttribute('aria-rowindex')).toBe('1001');
    expect(await page.getByRole('row').count()).toBeLessThan(80);
    expect(page.faults).toEqual([]);
  });
});
