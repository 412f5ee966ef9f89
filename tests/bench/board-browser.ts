/** The board as Chromium draws it: how soon, and how it scrolls. */
import { type Browser, chromium, type Page } from 'playwright-core';
import type { FleetAnswer } from '../../server/contract/fleet.ts';

const PROGRAM = process.env.CHROMIUM ?? '/usr/bin/chromium';

export async function withBrowser<Value>(use: (browser: Browser) => Promise<Value>): Promise<Value> {
  const browser = await chromium.launch({
    executablePath: PROGRAM,
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking'],
  });
  try {
    return await use(browser);
  } finally {
    await browser.close();
  }
}

/** What is measured is asked by scripts from outside, which the content policy of the board rightly refuses. */
const openPage = (browser: Browser): Promise<Page> =>
  browser.newPage({ viewport: { width: 1440, height: 1000 }, bypassCSP: true });

/** The fleet's answer again and again until it holds `count` sites, each with its own name. */
function manySites(fleet: FleetAnswer, count: number): FleetAnswer {
  const places = Array.from({ length: count }, (_, i) => i % fleet.site.length);
  const lists = Object.entries(fleet).map(([key, value]) => {
    const isList = Array.isArray(value) && !['groups', 'zones', 'ratings', 'reasons'].includes(key);
    return [key, isList ? places.map((place) => (value as readonly unknown[])[place]) : value];
  });
  return {
    ...(Object.fromEntries(lists) as FleetAnswer),
    site: places.map((place, i) => `${fleet.site[place]}-${i}`),
    name: places.map((place, i) => `${fleet.name[place]} ${i}`),
  };
}

/** From the answer's last byte to rows on the screen; then a hard flick a frame to the end of the list. */
const SCROLL = `(async () => {
  const frames = [];
  let before = performance.now();
  for (let y = 0; y <= document.documentElement.scrollHeight; y += 200) {
    scrollTo(0, y);
    const now = await new Promise(requestAnimationFrame);
    frames.push(now - before);
    before = now;
  }
  return { longest: Math.max(...frames), over: frames.filter((ms) => ms > 100).length, frames: frames.length };
})()`;

/** Marks when rows and charts first stand on the page: before any script of ours runs. */
const WATCH = `
  globalThis.seen = {};
  const look = () => {
    const now = performance.now();
    if (seen.rows === undefined && document.querySelector('.rows .fleet-row') !== null) seen.rows = now;
    if (seen.chart === undefined && document.querySelector('.chart-canvas canvas') !== null) seen.chart = now;
    requestAnimationFrame(look);
  };
  requestAnimationFrame(look);`;

export interface FleetDrawn {
  readonly rowsMs: number;
  readonly fromStartMs: number;
  readonly longestFrameMs: number;
  readonly framesOver100: number;
  readonly frames: number;
}

export async function drawFleet(browser: Browser, address: string, count: number): Promise<FleetDrawn> {
  const page = await openPage(browser);
  const fleet = (await (await fetch(`${address}/api/fleet`)).json()) as FleetAnswer;
  const json = manySites(fleet, count);
  await page.route('**/api/fleet', (route) => route.fulfill({ json }));
  await page.addInitScript(WATCH);
  await page.goto(address);
  await page.waitForFunction('seen.rows !== undefined');
  const times = await page.evaluate<{ rows: number; answer: number }>(
    `({ rows: seen.rows, answer: performance.getEntriesByType('resource').find(({ name }) => name.endsWith('/api/fleet')).responseEnd })`,
  );
  const scrolled = await page.evaluate<{ longest: number; over: number; frames: number }>(SCROLL);
  await page.close();
  return {
    rowsMs: times.rows - times.answer,
    fromStartMs: times.rows,
    longestFrameMs: scrolled.longest,
    framesOver100: scrolled.over,
    frames: scrolled.frames,
  };
}

export interface YearDrawn {
  readonly firstMs: number;
  readonly againMs: number;
  /** Each zoom: from asking the server to the frame after its answer was drawn. */
  readonly zoomsMs: readonly number[];
}

/** From the click on a site to its first chart. */
async function openSite(page: Page): Promise<number> {
  await page.evaluate(
    `delete seen.chart, seen.from = performance.now(), document.querySelector('[data-row-link]').click()`,
  );
  await page.waitForFunction('seen.chart !== undefined');
  return page.evaluate<number>('seen.chart - seen.from');
}

const ASKED = `performance.getEntriesByType('resource').filter(({ name }) => name.includes('/series'))`;
const NEXT_ANSWER = (before: number): string => `new Promise((resolve) => {
  const look = () => {
    const own = ${ASKED}.slice(${before}).filter(({ responseEnd }) => responseEnd > 0);
    if (own.length === 0) return requestAnimationFrame(look);
    requestAnimationFrame(() => requestAnimationFrame(() => resolve(performance.now() - own[0].startTime)));
  };
  look();
})`;

export async function drawYear(browser: Browser, address: string, zooms: number): Promise<YearDrawn> {
  const page = await openPage(browser);
  await page.addInitScript(WATCH);
  await page.goto(address);
  await page.waitForFunction('seen.rows !== undefined');
  const firstMs = await openSite(page);
  await page.goBack();
  await page.waitForFunction(`document.querySelector('.rows .fleet-row') !== null`);
  const againMs = await openSite(page);
  const plots = page.getByRole('group', { name: /Charge of the packs.*on one time axis/ }).first();
  await plots.focus();
  const zoomsMs: number[] = [];
  for (let zoom = 0; zoom < zooms; zoom++) {
    const before = await page.evaluate<number>(`${ASKED}.length`);
    await page.keyboard.press('+');
    zoomsMs.push(await page.evaluate<number>(NEXT_ANSWER(before)));
  }
  await page.close();
  return { firstMs, againMs, zoomsMs };
}
