/** The board on a real store: the fleet's answer, its rows in a browser, a year of one site, and a start from nothing. */
import { get } from 'node:http';
import { join } from 'node:path';
import { DAY_MS, HOUR_MS } from '../../ingest/vocabulary/time.ts';
import type { Answer } from '../../server/contract/api-types.ts';
import type { FleetAnswer } from '../../server/contract/fleet.ts';
import { apiPath } from '../../server/contract/paths.ts';
import { type Serving, serve } from '../../server/process/serve.ts';
import { BENCH_FOLDER, FIRST_DAY_MS } from './bench-data.ts';
import { type BenchFigure, figure, median } from './bench-figure.ts';
import type { BenchRun } from './bench-run.ts';
import { drawFleet, drawYear, withBrowser } from './board-browser.ts';
import { startDemo } from './board-start.ts';
import { boardStore } from './board-store.ts';

const FLEET = { name: 'fleet', sites: 500, days: 30, everyS: 900, eventEveryS: 120 } as const;
const YEAR = { name: 'year', sites: 1, days: 365, everyS: 10, eventEveryS: 10 } as const;
const PAGES = join(BENCH_FOLDER, '../../dist/web');
const ROUNDS = 9;
const ROWS = 1000;
const ZOOMS = 6;

const most = (limit: number) => ({ asked: { of: 'value' as const, is: 'most' as const, limit } });

/** A board over a folder, the morning after its last day. */
const serveFolder = (data: string, days: number): Promise<Serving> =>
  serve({
    data,
    listen: { host: '127.0.0.1', port: 0, token: null },
    pages: PAGES,
    version: 'bench',
    push: () => null,
    nowMs: () => FIRST_DAY_MS + days * DAY_MS,
    say: (line) => process.stderr.write(`${line}\n`),
  });

/** One request as a browser makes it: how long until its last byte, and how many bytes came. */
function ask(address: string): Promise<{ readonly ms: number; readonly bytes: number }> {
  const startedMs = performance.now();
  return new Promise((resolve, reject) => {
    get(address, { headers: { 'Accept-Encoding': 'gzip' } }, (response) => {
      let bytes = 0;
      response.on('data', (piece: Buffer) => {
        bytes += piece.length;
      });
      response.on('end', () => resolve({ ms: performance.now() - startedMs, bytes }));
    }).on('error', reject);
  });
}

async function fleetFigures(address: string): Promise<BenchFigure[]> {
  const path = `${address}/api/fleet`;
  const first = await ask(path);
  const rounds = [];
  for (let round = 0; round < ROUNDS; round++) rounds.push(await ask(path));
  const fleet = (await (await fetch(path)).json()) as FleetAnswer;
  const open = fleet.worst.filter((worst) => worst !== null).length;
  const events = fleet.events.reduce((sum, flat) => sum + flat.length / 4, 0);
  const drawn = await withBrowser((browser) => drawFleet(browser, address, ROWS));
  return [
    figure(
      'board',
      'fleet answer, 500 sites × 30 days, warm, with gzip and loopback',
      median(rounds.map(({ ms }) => ms)),
      'ms',
      {
        ...most(50),
        note: `${open} sites with an open finding, ${events} events; first answer ${Math.round(first.ms)} ms`,
      },
    ),
    figure('board', 'the same on the wire', first.bytes / 1000, 'kB', most(30)),
    figure('board', `${ROWS} rows drawn after their answer came`, drawn.rowsMs, 'ms', {
      ...most(1000),
      note: `${Math.round(drawn.fromStartMs)} ms from the first request`,
    }),
    figure('board', 'longest frame while scrolling them', drawn.longestFrameMs, 'ms', {
      ...most(100),
      note: `${drawn.framesOver100} of ${drawn.frames} frames over 100 ms`,
    }),
  ];
}

/** The longest answer for windows of each length that a hand comes to, each asked of a server that has not seen it. */
async function zoomFigures(data: string): Promise<BenchFigure[]> {
  const end = FIRST_DAY_MS + YEAR.days * DAY_MS;
  const lengths = [
    365 * DAY_MS,
    180 * DAY_MS,
    92 * DAY_MS,
    60 * DAY_MS,
    30 * DAY_MS,
    14 * DAY_MS,
    7 * DAY_MS,
    DAY_MS,
    HOUR_MS,
  ];
  const cold: string[] = [];
  let [longestCold, longestWarm] = [0, 0];
  for (const length of lengths) {
    const serving = await serveFolder(data, YEAR.days);
    const fleet = (await (await fetch(`${serving.address}/api/fleet`)).json()) as FleetAnswer;
    const site = fleet.site[0]!;
    const { record } = (await (await fetch(serving.address + apiPath('site', { site }))).json()) as Answer<'site'>;
    const of = record.packs.flatMap(({ id }) => [`pack/${id}/soc_pct`, `pack/${id}/pack_current_a`]).join(',');
    const to = end - 20 * DAY_MS < end - length ? end - 20 * DAY_MS : end;
    const path = serving.address + apiPath('series', { site }, { of, from: to - length, to, points: 600 });
    const first = await ask(path);
    const again = await ask(path);
    longestCold = Math.max(longestCold, first.ms);
    longestWarm = Math.max(longestWarm, again.ms);
    cold.push(`${length >= DAY_MS ? `${length / DAY_MS} d` : '1 h'} ${Math.round(first.ms)}`);
    await serving.stop();
  }
  return [
    figure('board', 'longest answer for a window of the packs (8 series), never asked before', longestCold, 'ms', {
      ...most(150),
      note: cold.join(', '),
    }),
    figure('board', 'the same, asked again', longestWarm, 'ms', most(150)),
  ];
}

async function yearFigures(data: string): Promise<BenchFigure[]> {
  const serving = await serveFolder(data, YEAR.days);
  try {
    const drawn = await withBrowser((browser) => drawYear(browser, serving.address, ZOOMS));
    return [
      figure('board', 'a year of one site at 10 s: first chart after the click', drawn.againMs, 'ms', {
        ...most(300),
        note: `${Math.round(drawn.firstMs)} ms where page and chart library are fetched for the first time`,
      }),
      figure('board', `median of ${ZOOMS} zooms, from asking to drawn`, median(drawn.zoomsMs), 'ms', {
        ...most(150),
        note: `each: ${drawn.zoomsMs.map((ms) => Math.round(ms)).join(', ')}`,
      }),
    ];
  } finally {
    await serving.stop();
  }
}

export async function boardPart({ say }: BenchRun): Promise<BenchFigure[]> {
  const started = await startDemo();
  const startFigures = [
    figure('board', 'from the start of the demo, built, to its first site', started.firstSiteS, 's', {
      ...most(60),
      note: `all 12 sites after ${started.allSitesS.toFixed(1)} s`,
    }),
    figure('board', 'memory of worker and server on the demo', started.serverMb + started.workerMb, 'MB', {
      ...most(400),
      note: `server ${Math.round(started.serverMb)}, worker ${Math.round(started.workerMb)}`,
    }),
  ];
  const serving = await serveFolder(await boardStore(FLEET, say), FLEET.days);
  const fleet = await fleetFigures(serving.address).finally(() => serving.stop());
  const year = await boardStore(YEAR, say);
  return [...startFigures, ...fleet, ...(await zoomFigures(year)), ...(await yearFigures(year))];
}
