/** The server of one data folder: opens the stores, listens, stops cleanly. */
import { randomUUID } from 'node:crypto';
import type { Server } from 'node:http';
import { createAdaptorServer } from '@hono/node-server';
import type { PushSource } from '../../ingest/sources/push/push-source.ts';
import { createBoardReads } from '../../ingest/store/board-reads.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStore, openStoreToRead } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { createSourceStatusStore } from '../../ingest/store/source-status-store.ts';
import { NeedsOperator } from '../../ingest/vocabulary/refusal.ts';
import { createBoard } from '../routes/board.ts';
import type { DemoHold } from '../routes/demo-routes.ts';
import { openPeopleStore } from '../store/people-store.ts';
import { isLoopback } from './read-config.ts';

export interface ServeOptions {
  readonly data: string;
  readonly listen: { readonly host: string; readonly port: number; readonly token: string | null };
  /** Folder of the built pages; null: the API alone. */
  readonly pages: string | null;
  readonly version: string;
  /** The push source as it stands; null: there is none. */
  readonly push: () => PushSource | null;
  /** The demo fleet as it lives now; left out: the board shows none. */
  readonly demo?: (() => DemoHold | null) | null;
  readonly nowMs: () => number;
  readonly say: (line: string) => void;
}

export interface Serving {
  /** http://localhost:8090 */
  readonly address: string;
  stop(): Promise<void>;
}

/** Streams and requests that do not end by then are ended. */
const STOP_GRACE_MS = 2000;

/** @throws NeedsOperator where the folder can't be used, the port is taken, or others could reach it without a token */
export async function serve({
  data,
  listen,
  pages,
  version,
  push,
  demo = null,
  nowMs,
  say,
}: ServeOptions): Promise<Serving> {
  if (listen.token === null && !isLoopback(listen.host)) {
    throw new NeedsOperator({
      where: `listen.host ${listen.host}`,
      what: 'others can reach this address, and no token is configured',
      remedy: 'listen on 127.0.0.1, or name an environment variable with a token: listen.token_env',
    });
  }
  // Opened for writing once: the folder and its tables come into being, and an older database is brought up to date.
  openStore(data).close();
  const db = openStoreToRead(data);
  const people = openPeopleStore(data);
  const house = {
    readings: createReadingStore(db),
    derived: createDerivedStore(db),
    reads: createBoardReads(db),
    sources: createSourceStatusStore(db),
    people,
    nowMs,
  };
  const report = (error: unknown): void =>
    say(`the server: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`);
  const board = createBoard({
    house,
    pages,
    token: listen.token,
    isKnownHost: hostRule(listen),
    version,
    push,
    demo,
    bootedAs: randomUUID().slice(0, 8),
    report,
  });
  const close = (): void => {
    board.close();
    people.close();
    db.close();
  };
  try {
    const server = await listenOn(board.app.fetch, listen);
    const port = portOf(server) ?? listen.port;
    const address = `http://${isLoopback(listen.host) ? 'localhost' : listen.host}:${port}`;
    return {
      address,
      stop: async () => {
        board.close();
        await closed(server);
        close();
      },
    };
  } catch (error) {
    close();
    throw error;
  }
}

/** On loopback only names of loopback are ours; elsewhere the token guards, and names are the operator's to choose. */
function hostRule({ host, token }: ServeOptions['listen']): (asked: string) => boolean {
  if (token !== null || !isLoopback(host)) return () => true;
  return (asked) => isLoopback(asked.replace(/:\d+$/, ''));
}

function portOf(server: Server): number | null {
  const address = server.address();
  return address === null || typeof address === 'string' ? null : address.port;
}

function listenOn(
  fetch: Parameters<typeof createAdaptorServer>[0]['fetch'],
  { host, port }: ServeOptions['listen'],
): Promise<Server> {
  const server = createAdaptorServer({ fetch }) as Server;
  return new Promise((resolve, reject) => {
    server.once('error', (error: NodeJS.ErrnoException) => reject(asListenRefusal(error, host, port)));
    server.listen(port, host, () => {
      server.removeAllListeners('error');
      resolve(server);
    });
  });
}

const LISTEN_REMEDIES: Readonly<Record<string, readonly [what: string, remedy: string]>> = {
  EADDRINUSE: ['another program listens there already', 'stop it, or choose another port: --port 8091'],
  EACCES: ['this user may not listen there', 'choose a port from 1024 on: --port 8090'],
  EADDRNOTAVAIL: ['this machine has no such address', 'listen on 127.0.0.1'],
  ENOTFOUND: ['there is no such name', 'listen on 127.0.0.1'],
};

function asListenRefusal(error: NodeJS.ErrnoException, host: string, port: number): unknown {
  const [what, remedy] = LISTEN_REMEDIES[error.code ?? ''] ?? [];
  if (what === undefined || remedy === undefined) return error;
  return new NeedsOperator({ where: `${host}, port ${port}`, what, remedy }, { cause: error });
}

function closed(server: Server): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(() => server.closeAllConnections(), STOP_GRACE_MS);
    server.close(() => {
      clearTimeout(timer);
      resolve();
    });
    server.closeIdleConnections();
  });
}
