/** A board over a small demo fleet, served on a port of its own: what the browser tests look at. */
import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { serve } from '@hono/node-server';
import { findingsCommand } from '../../ingest/commands/findings.ts';
import { importCommand } from '../../ingest/commands/import.ts';
import { writeDemo } from '../../ingest/demo/write-demo.ts';
import { createBoardReads } from '../../ingest/store/board-reads.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore } from '../../ingest/store/source-status-store.ts';
import { DAY_MS, epochMs } from '../../ingest/vocabulary/time.ts';
import { createBoard } from '../../server/routes/board.ts';
import { openPeopleStore } from '../../server/store/people-store.ts';
import { run } from '../ingest/commands/_stored.ts';

export const OUT = join(import.meta.dirname, 'out');
export const PAGES = join(import.meta.dirname, '../../dist/web');
const FLEET = {
  seed: 1,
  from: epochMs(Date.UTC(2026, 2, 2)),
  days: 42,
  everyS: 60,
  sites: 4,
  gzip: false,
  format: 'ndjson',
} as const;
/** The morning after the last day: what the fleet's own clock says. */
export const NOW_MS = FLEET.from + FLEET.days * DAY_MS;

/** Written and analysed once; later runs find it there. */
async function demoFolder(): Promise<string> {
  const folder = join(OUT, 'fleet');
  const done = join(folder, 'done');
  if (existsSync(done)) {
    // Nothing where the analyzers are the same; else the fleet is judged anew.
    await run([findingsCommand], ['findings', '--data', folder]);
    return folder;
  }
  mkdirSync(folder, { recursive: true });
  await writeDemo({ ...FLEET, out: folder, say: () => {} });
  const sites = join(folder, 'sites.yaml');
  await run([importCommand], ['import', '--data', folder, '--sites', sites, join(folder, 'logs')]);
  await run([findingsCommand], ['findings', '--data', folder]);
  writeFileSync(done, '');
  return folder;
}

export interface ServedBoard {
  readonly url: string;
  close(): Promise<void>;
}

/** @param data a folder that is there already; absent: the small demo fleet */
export async function serveBoard(data?: string, port = 0, now = NOW_MS): Promise<ServedBoard> {
  const folder = data ?? (await demoFolder());
  const db = openStore(folder);
  const people = openPeopleStore(folder);
  const house = {
    readings: createReadingStore(db),
    derived: createDerivedStore(db),
    reads: createBoardReads(db),
    sources: createSourceStatusStore(db),
    people,
    nowMs: () => now,
  };
  const report = (error: unknown) => {
    throw error;
  };
  const board = createBoard({
    house,
    pages: PAGES,
    token: null,
    isKnownHost: () => true,
    version: '0.0.0',
    push: () => null,
    bootedAs: 'test',
    report,
  });
  return new Promise((resolve) => {
    const server = serve({ fetch: board.app.fetch, port, hostname: '127.0.0.1' }, ({ port: given }) =>
      resolve({
        url: `http://127.0.0.1:${given}`,
        close: () =>
          new Promise((closed) => {
            board.close();
            if ('closeAllConnections' in server) server.closeAllConnections();
            server.close(() => {
              db.close();
              people.close();
              closed();
            });
          }),
      }),
    );
  });
}
