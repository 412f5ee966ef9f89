/** Stores a simulated fleet straight as rows, without log files, and judges it: what the board is measured on. */
import { openAnalysed } from '../../ingest/commands/analysed-store.ts';
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

interface Asked {
  readonly data: string;
  readonly fromMs: number;
  readonly sites: number;
  readonly days: number;
  readonly everyS: number;
  /** On days with a grid loss. */
  readonly eventEveryS: number;
}

const SEED = 1;
const PENDING_MAX_BYTES = 48 * 1024 * 1024;

function storeAll({ data, fromMs, sites, days, everyS, eventEveryS }: Asked): number {
  const period = {
    from: epochMs(fromMs),
    to: epochMs(fromMs + days * DAY_MS),
    everyMs: everyS * 1000,
    eventEveryMs: eventEveryS * 1000,
  };
  const plans = planFleet({ seed: SEED, period, sites });
  const store = createReadingStore(openStore(data));
  const { histories } = checkSites([
    { file: 'the fleet', text: plans.flatMap((site) => siteDocuments(site, period)).join('---\n') },
  ]);
  for (const history of histories.values()) store.addRecord(history, fromMs);
  const intake = createIntake(store);
  const decoder = createNdjsonDecoder();
  const rows = createRowSink();
  let readings = 0;
  for (const site of plans) {
    const run = createSiteRun(site, period, SEED, 'ndjson');
    run.rows = rows;
    for (let day = fromMs; day < period.to; day += DAY_MS) {
      const [file] = simulateDay(run, day);
      const batch = takeBatch(rows, sourceKeys(run));
      readings += batch.readings;
      intake.take(batch);
      // Settings and alarms are lines all the same.
      if (file !== undefined) intake.take(decoder.decode(file.bytes.slice(), 1));
      if (intake.pendingBytes > PENDING_MAX_BYTES) intake.flush();
    }
  }
  intake.flush();
  store.db.close();
  return readings;
}

const asked = JSON.parse(process.argv[2]!) as Asked;
const readings = storeAll(asked);
const analysed = openAnalysed(asked.data, null);
let findings = 0;
let events = 0;
for (const site of analysed.store.recordSites()) {
  const answer = analysed.analyse(site)?.answer;
  findings += answer?.findings.length ?? 0;
  events += answer?.events.length ?? 0;
}
analysed.close();
process.stdout.write(`${JSON.stringify({ readings, findings, events })}\n`);
