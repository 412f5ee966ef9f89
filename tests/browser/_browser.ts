/** Chromium as it is on this machine, and what every test does with it. */
import { createRequire } from 'node:module';
import { type Browser, chromium, type Page } from 'playwright-core';
import { NOW_MS } from './_board.ts';

const PROGRAM = process.env.CHROMIUM ?? '/usr/bin/chromium';
const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export const openBrowser = (): Promise<Browser> => chromium.launch({ executablePath: PROGRAM, args: FLAGS });

export interface Looks {
  readonly width: number;
  readonly theme: 'light' | 'dark';
  /** axe is added as a script from outside, which the content policy of the board rightly refuses. */
  readonly isForAxe?: boolean;
}

/** A page that fails the test on any error or refused resource. */
export async function openPage(
  browser: Browser,
  { width, theme, isForAxe = false }: Looks,
): Promise<Page & { readonly faults: string[] }> {
  const page = await browser.newPage({
    viewport: { width, height: width < 600 ? 844 : 1000 },
    colorScheme: theme,
    reducedMotion: 'reduce',
    timezoneId: 'Europe/Vienna',
    locale: 'en-GB',
    bypassCSP: isForAxe,
  });
  // The fleet's own clock: what was heard a minute ago is said so, whenever the test runs.
  await page.clock.setFixedTime(NOW_MS);
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(String(error)));
  page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
  return Object.assign(page, { faults });
}

interface Violation {
  readonly id: string;
  readonly nodes: readonly { readonly html: string; readonly failureSummary?: string }[];
}

/** What axe finds wrong by WCAG 2.0 to 2.2, A and AA, as readable lines. */
export async function axeViolations(page: Page): Promise<string[]> {
  await page.addScriptTag({ path: createRequire(import.meta.url).resolve('axe-core/axe.min.js') });
  const violations = await page.evaluate(async () => {
    const { axe } = globalThis as unknown as { axe: { run(options: object): Promise<{ violations: Violation[] }> } };
    const runOnly = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
    return (await axe.run({ runOnly })).violations;
  });
  return violations.flatMap(({ id, nodes }) =>
    nodes.map(({ html, failureSummary }) => `${id}: ${html.slice(0, 160)} ${failureSummary ?? ''}`),
  );
}

/** Until every chart on the page has drawn its canvas. */
export async function chartsDrawn(page: Page): Promise<void> {
  await page.waitForFunction(() => document.querySelector('.chart-waits, .waits') === null);
  await page.waitForFunction(() =>
    [...document.querySelectorAll('.chart-canvas')].every((place) => place.querySelector('canvas') !== null),
  );
}
