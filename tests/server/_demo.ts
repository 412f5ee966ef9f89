/** A small simulated fleet, stored and judged, for tests that compare what is said of it in different places. */
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { planFleet } from '../../ingest/demo/fleet.ts';
import { createRowSink, takeBatch } from '../../ingest/demo/row-sink.ts';
import { createSiteRun, simulateDay, sourceKeys } from '../../ingest/demo/simulate-site.ts';
import { siteDocuments } from '../../ingest/demo/site-documents.ts';
import { createIntake } from '../../ingest/intake/intake.ts';
import { checkSites } from '../../ingest/site/check-sites.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import { DAY_MS, epochMs } from '../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { judge } from './_board.ts';

/** Of the plan's sites two are lived: one whose share drifts, one whose setting is moved. A drift needs a reading a minute. */
const LIVED: ReadonlySet<string> = new Set(['brackwater-bakery', 'mill-lane-shop']);
export const DEMO = { fromMs: Date.UTC(2026, 2, 2), days: 42, sites: 4, everyMs: 60_000, eventEveryMs: 60_000 };
export const DEMO_END_MS = DEMO.fromMs + DEMO.days * DAY_MS;

/** @returns the folder; whoever asks for it drops it */
export function storeDemo(): string {
  const folder = mkdtempSync(join(tmpdir(), 'kilter-demo-'));
  const { fromMs, sites, everyMs, eventEveryMs } = DEMO;
  const period = { from: epochMs(fromMs), to: epochMs(DEMO_END_MS), everyMs, eventEveryMs };
  const store = createReadingStore(openStore(folder));
  const intake = createIntake(store);
  const decoder = createNdjsonDecoder();
  const rows = createRowSink();
  const plans = planFleet({ seed: 1, period, sites }).filter(({ id }) => LIVED.has(id));
  const text = plans.flatMap((plan) => siteDocuments(plan, period)).join('---\n');
  for (const history of checkSites([{ file: 'the fleet', text }]).histories.values()) store.addRecord(history, fromMs);
  for (const plan of plans) {
    const run = createSiteRun(plan, period, 1, 'ndjson');
    run.rows = rows;
    for (let day = fromMs; day < DEMO_END_MS; day += DAY_MS) {
      const [file] = simulateDay(run, day);
      intake.take(takeBatch(rows, sourceKeys(run)));
      if (file !== undefined) intake.take(decoder.decode(file.bytes.slice(), 1));
      intake.flush();
    }
  }
  store.db.close();
  judge(folder);
  return folder;
}
