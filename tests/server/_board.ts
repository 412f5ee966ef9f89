/** A board over a small stored fleet, asked without a socket. */
import { openAnalysed } from '../../ingest/commands/analysed-store.ts';
import { createBoardReads } from '../../ingest/store/board-reads.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore } from '../../ingest/store/source-status-store.ts';
import type { House } from '../../server/answers/house.ts';
import { type BoardOptions, createBoard } from '../../server/routes/board.ts';
import { openPeopleStore } from '../../server/store/people-store.ts';
import { at } from '../ingest/commands/_stored.ts';

/** Judges what is stored, as a worker does. */
export function judge(folder: string): void {
  const analysed = openAnalysed(folder, null);
  for (const site of analysed.store.recordSites()) analysed.analyse(site);
  analysed.close();
}

export function openHouse(folder: string, nowMs: () => number = () => at('10T08:00:30')): House & { close(): void } {
  const db = openStoreToRead(folder);
  const people = openPeopleStore(folder);
  return {
    readings: createReadingStore(db),
    derived: createDerivedStore(db),
    reads: createBoardReads(db),
    sources: createSourceStatusStore(db),
    people,
    nowMs,
    close() {
      people.close();
      db.close();
    },
  };
}

export function openBoard(house: House, options: Partial<BoardOptions> = {}) {
  const reports: unknown[] = [];
  const board = createBoard({
    house,
    pages: null,
    token: null,
    isKnownHost: () => true,
    version: '9.9.9',
    push: () => null,
    bootedAs: 'test',
    report: (error) => reports.push(error),
    ...options,
  });
  const ask = (path: string, init: RequestInit = {}): Promise<Response> =>
    Promise.resolve(board.app.request(path, init));
  return { ...board, ask, reports };
}
