/** A thread that brings sites up to date beside the command, from the last one backwards: see `judge-beside.ts`. */
import { workerData } from 'node:worker_threads';
import { judgeSite } from '../runner/judge-site.ts';
import { createDerivedStore } from '../store/derived-store.ts';
import { openStore } from '../store/open-store.ts';
import { createReadingStore } from '../store/reading-store.ts';
import { type BesideTask, DONE, FREE, TAKEN } from './judge-beside.ts';

const { folder, sites, claims } = workerData as BesideTask;
const db = openStore(folder);
const store = createReadingStore(db);
const derived = createDerivedStore(db);
for (let i = sites.length - 1; i >= 0; i--) {
  // What the command has begun is its own, and so is all that lies before.
  if (Atomics.compareExchange(claims, i, FREE, TAKEN) !== FREE) break;
  try {
    judgeSite(store, derived, sites[i]!);
  } catch {
    // The command meets the same error when it asks for the site, and says it.
  }
  Atomics.store(claims, i, DONE);
  Atomics.notify(claims, i);
}
db.close();
