/** The page of sources in each of its states: all well, trouble, nothing configured, nobody speaks any more. */
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { serve } from '@hono/node-server';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { createBoardReads } from '../../ingest/store/board-reads.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore, type WrittenStatus } from '../../ingest/store/source-status-store.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { createBoard } from '../../server/routes/board.ts';
import { openPeopleStore } from '../../server/store/people-store.ts';
import { pathOf } from '../../web/url/view.ts';
import { NOW_MS, OUT, PAGES } from './_board.ts';
import { axeViolations, openBrowser, openPage } from './_browser.ts';

const SHOTS = join(OUT, 'shots');
let browser: Browser;
let folder = '';
beforeAll(async () => {
  mkdirSync(SHOTS, { recursive: true });
  browser = await openBrowser();
  folder = mkdtempSync(join(tmpdir(), 'kilter-sources-'));
}, 60_000);
afterAll(async () => {
  await browser.close();
  rmSync(folder, { recursive: true, force: true });
});

const ago = (seconds: number) => epochMs(NOW_MS - seconds * 1000);
const plain = (name: string, kind: WrittenStatus['kind']): WrittenStatus => ({
  name,
  kind,
  isConnected: true,
  since: ago(86_400),
  lastReadingAt: ago(4),
  lagMs: 400,
  readings: 120_000,
  refused: 0,
  samples: [],
  trouble: null,
  parts: [],
  perMinute: 42,
});
const LINK: WrittenStatus = {
  ...plain('modbus 10.0.7.20:502', 'modbus'),
  parts: [
    { name: 'u1 at address 1', isAnswering: true, lastReadingAt: ago(4), trouble: null },
    {
      name: 'u2 at address 2',
      isAnswering: false,
      lastReadingAt: ago(7200),
      trouble: 'no answer within 1000 ms, 412 times: check its address, and that it is on',
    },
  ],
};
const BROKER: WrittenStatus = {
  ...plain('mqtt broker.valley.example:8883 as kilter-valley', 'mqtt'),
  isConnected: false,
  since: ago(1260),
  lastReadingAt: ago(1270),
  perMinute: 0,
  refused: 1312,
  trouble: 'the broker does not know this user or password',
  samples: Array.from({ length: 3 }, (_, k) => ({
    at: ago(1300 + k * 60),
    where: 'kilter/v1/millpond/unit/u1',
    what: 'output_power_w is "many"',
    remedy: 'give a number in W, without quotes; leave the key out where nothing was measured',
  })),
};

const STATES: readonly {
  readonly name: string;
  readonly statuses: readonly WrittenStatus[];
  readonly saidAgoS: number;
  readonly says: RegExp;
}[] = [
  { name: 'none', statuses: [], saidAgoS: 0, says: /^No source is configured/ },
  {
    name: 'well',
    statuses: [plain('folder ./incoming', 'folder'), plain('push', 'push')],
    saidAgoS: 0,
    says: /^All two sources work\.$/,
  },
  {
    name: 'trouble',
    statuses: [plain('folder ./incoming', 'folder'), LINK, BROKER],
    saidAgoS: 0,
    says: /^Two of three sources need somebody; the first is mqtt broker\.valley\.example:8883/,
  },
  { name: 'stale', statuses: [LINK], saidAgoS: 900, says: /^Nobody has said for 15.min how the sources fare\.$/ },
];

async function serveStatuses(name: string, statuses: readonly WrittenStatus[], saidAgoS: number) {
  const data = join(folder, name);
  const db = openStore(data);
  const people = openPeopleStore(data);
  const sources = createSourceStatusStore(db);
  sources.put('worker', ago(saidAgoS), statuses);
  if (name === 'trouble') sources.putClock({ name: 'garden', at: ago(20), offsetMs: 3240 });
  const board = createBoard({
    house: {
      readings: createReadingStore(db),
      derived: createDerivedStore(db),
      reads: createBoardReads(db),
      sources,
      people,
      nowMs: () => NOW_MS,
    },
    pages: PAGES,
    token: null,
    push: () => null,
    isKnownHost: () => true,
    version: '0.0.0',
    bootedAs: name,
    report: (error) => {
      throw error;
    },
  });
  const server = await new Promise<ReturnType<typeof serve>>((resolve) => {
    const started = serve({ fetch: board.app.fetch, port: 0, hostname: '127.0.0.1' }, () => resolve(started));
  });
  const { port } = server.address() as { port: number };
  return {
    url: `http://127.0.0.1:${port}`,
    async close() {
      board.close();
      if ('closeAllConnections' in server) server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
      people.close();
      db.close();
    },
  };
}

describe.each(STATES)('$name', ({ name, statuses, saidAgoS, says }) => {
  test('answers in its first line, fits its width, passes axe, light and dark', async () => {
    const served = await serveStatuses(name, statuses, saidAgoS);
    try {
      for (const width of [1440, 390] as const) {
        // The fullest in all four; of the others each width once.
        for (const theme of name === 'trouble'
          ? (['light', 'dark'] as const)
          : [width === 390 ? ('dark' as const) : ('light' as const)]) {
          const page = await openPage(browser, { width, theme, isForAxe: true });
          await page.goto(served.url + pathOf({ page: 'sources' }));
          const heading = page.getByRole('heading', { level: 1 });
          await heading.filter({ hasText: '.' }).waitFor();
          expect((await heading.textContent())?.trim()).toMatch(says);
          expect(await page.evaluate(() => document.documentElement.scrollWidth), `width of ${name}`).toBe(width);
          expect(await axeViolations(page), `axe on ${name}`).toEqual([]);
          expect(page.faults).toEqual([]);
          await page.screenshot({ path: join(SHOTS, `sources-${name}-${width}-${theme}.png`), fullPage: true });
          await page.close();
        }
      }
    } finally {
      await served.close();
    }
  }, 120_000);
});
