/**
 * A process to be killed: offers batches to the door of a store and seals, as it is told by the JSON in its first
 * argument. It prints the number of each batch as soon as the door has answered for it. Where `killAt` is given it
 * kills itself at that transaction, before or after its commit.
 */
import { readFileSync, writeSync } from 'node:fs';
import Database from 'better-sqlite3';
import { createLiveDoor } from '../../dist/ingest/intake/live-door.js';
import { openStore } from '../../dist/ingest/store/open-store.js';
import { createReadingStore } from '../../dist/ingest/store/reading-store.js';
import { createSealer } from '../../dist/ingest/store/sealer.js';
import { createNdjsonDecoder } from '../../dist/ingest/wire/ndjson.js';

const { data, lines, batchLines, batches, inFlight, sealEvery, killAt = null } = JSON.parse(process.argv[2]);

let transactions = 0;
const die = () => process.kill(process.pid, 'SIGKILL');
const original = Database.prototype.transaction;
Database.prototype.transaction = function transaction(body) {
  const inner = original.call(this, (...args) => {
    transactions++;
    const answer = body(...args);
    if (killAt?.transaction === transactions && killAt.when === 'before commit') die();
    return answer;
  });
  const run =
    (way) =>
    (...args) => {
      const answer = way(...args);
      if (killAt?.transaction === transactions && killAt.when === 'after commit') die();
      return answer;
    };
  return Object.assign(run(inner), { immediate: run(inner.immediate) });
};

const db = openStore(data);
const store = createReadingStore(db);
const door = createLiveDoor(store);
const sealer = createSealer(store);
const all = readFileSync(lines, 'utf8').trimEnd().split('\n');
const decoder = createNdjsonDecoder();
const batchOf = (n) => {
  const text = all.slice(n * batchLines, (n + 1) * batchLines).join('\n');
  return decoder.decode(Buffer.from(`${text}\n`), 1);
};

let hour = 0;
for (let at = 0; at < batches.length; at += inFlight) {
  await Promise.all(
    batches.slice(at, at + inFlight).map(async (n) => {
      await door.store(batchOf(n));
      writeSync(1, `${n}\n`);
    }),
  );
  if (at % (inFlight * sealEvery) === 0) hour++;
  // A piece at a time, so that batches come between the pieces of one sealing.
  sealer.sealDue(hour * 3_600_000, () => false);
}
while (sealer.sealAll(() => false));
db.close();
writeSync(1, `end ${transactions}\n`);
