/**
 * Two cores for a fleet: while a command judges its sites from the first on, a thread judges them from the last one
 * backwards. Who claims a site first has it; the command then finds it up to date. Only for the holder of the worker lock.
 */
import { Worker } from 'node:worker_threads';

/** States of a site in `claims`. */
export const FREE = 0;
export const TAKEN = 1;
export const DONE = 2;

export interface BesideTask {
  readonly folder: string;
  readonly sites: readonly string[];
  readonly claims: Int32Array<SharedArrayBuffer>;
}

export interface Beside {
  /** Before a site is judged here: resolves once nobody else is at it. */
  claim(index: number): Promise<void>;
  /** Lets the thread end what it is at; resolves once it has. */
  close(): Promise<void>;
}

/** Starting a thread costs more than a few sites that are up to date. */
const SITES_MIN = 4;
/** A worker thread can't be started from TypeScript source on Node 20, so the source runs without one. */
const IS_COMPILED = import.meta.url.endsWith('.js');

const ALONE: Beside = { claim: async () => undefined, close: async () => undefined };

export function judgeBeside(folder: string, sites: readonly string[]): Beside {
  if (!IS_COMPILED || sites.length < SITES_MIN) return ALONE;
  const claims = new Int32Array(new SharedArrayBuffer(4 * sites.length));
  const task: BesideTask = { folder, sites, claims };
  const thread = new Worker(new URL('./judge-thread.js', import.meta.url), { workerData: task });
  const ended = new Promise<void>((resolve) => thread.once('exit', () => resolve()));
  // What it had claimed is judged here after all, where its error is said.
  thread.once('error', () => {
    for (let i = 0; i < claims.length; i++) Atomics.compareExchange(claims, i, TAKEN, DONE);
  });
  return {
    async claim(index) {
      if (Atomics.compareExchange(claims, index, FREE, TAKEN) === FREE) return;
      while (Atomics.load(claims, index) === TAKEN) await new Promise((resolve) => setTimeout(resolve, 5));
    },
    close() {
      // Nothing more is begun.
      for (let i = 0; i < claims.length; i++) Atomics.compareExchange(claims, i, FREE, TAKEN);
      return ended;
    },
  };
}
