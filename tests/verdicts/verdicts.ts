/** `npm run verdicts`: what of a labelled fleet is found, how soon, and what is said that is not so. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { createIntake } from '../../ingest/intake/intake.ts';
import { analyseSite } from '../../ingest/runner/analyse-site.ts';
import { createDerivedStore } from '../../ingest/store/derived-store.ts';
import { openStore } from '../../ingest/store/open-store.ts';
import { createReadingStore } from '../../ingest/store/reading-store.ts';
import type { FindingKind } from '../../ingest/vocabulary/finding.ts';
import { planSite } from './fleet.ts';
import { BinMeans, oracleDelayH } from './oracle.ts';
import { historyOf } from './record.ts';
import { sayTable } from './say-table.ts';
import { SCENARIOS } from './scenarios.ts';
import { type SiteScore, scoreSite } from './score.ts';
import { liveSite } from './simulate.ts';

const PENDING_MAX_BYTES = 64 * 1024 * 1024;

const { values } = parseArgs({
  options: {
    sites: { type: 'string', default: String(2 * SCENARIOS.length) },
    days: { type: 'string', default: '28' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string' },
    healthy: { type: 'boolean', default: false },
    verbose: { type: 'boolean', default: false },
  },
});
const size = { sites: Number(values.sites), days: Number(values.days), seed: Number(values.seed) };
for (const [name, value] of Object.entries(size))
  if (!Number.isInteger(value) || value < 1) throw new RangeError(`--${name} takes a whole number from 1`);

/** --only takes scenarios with commas between them, or `faults` for all but the healthy sites. */
function isAsked(scenario: string): boolean {
  if (values.only === undefined) return true;
  return values.only === 'faults' ? scenario !== 'healthy' : values.only.split(',').includes(scenario);
}

/** The oracle watches the two kinds whose delay is held against it. */
function oracleOf(
  kind: FindingKind | undefined,
): { kind: 'share' | 'soc'; quantity: 'output_power_w' | 'soc_pct'; budget: number } | null {
  if (kind === 'share_drift') return { kind: 'share', quantity: 'output_power_w', budget: 0.03 };
  if (kind === 'soc_divergence') return { kind: 'soc', quantity: 'soc_pct', budget: 0.02 };
  return null;
}

const folder = mkdtempSync(join(tmpdir(), 'verdicts-'));
const scores: SiteScore[] = [];
let analysisMs = 0;
let readings = 0;
try {
  const db = openStore(folder);
  const store = createReadingStore(db);
  const derived = createDerivedStore(db);
  for (let n = 0; n < size.sites; n++) {
    const planned = planSite(n, size, values.healthy ? true : undefined);
    if (!isAsked(planned.scenario)) continue;
    const history = historyOf(planned.site);
    store.addRecord(history, planned.site.from);
    const intake = createIntake(store);
    const watch = oracleOf(planned.site.faults[0]?.kind);
    const means = watch === null ? null : new BinMeans(planned.site, watch.quantity);
    const lived = liveSite(planned.site, (batch) => {
      intake.take(batch);
      means?.take(batch);
      if (intake.pendingBytes > PENDING_MAX_BYTES) intake.flush();
    });
    intake.flush();
    readings += lived.readings;
    const startedMs = performance.now();
    const answer = analyseSite(store, derived, planned.site.id, { asOf: null, mayWrite: true })!;
    analysisMs += performance.now() - startedMs;
    const oracleH =
      watch === null || means === null ? null : oracleDelayH(planned.site, means, watch.kind, watch.budget);
    const score = scoreSite(planned, answer, lived.events, oracleH);
    scores.push(score);
    if (values.verbose) {
      const { events } = score;
      console.log(
        `${score.site} ${score.scenario} · events ${events.found}/${events.real}, invented ${events.invented}, held wrong ${events.heldWrong}`,
      );
      for (const { fault, found, delayH, onsetErrorH, oracleH } of score.faults)
        console.log(
          `   ${found === null ? 'MISSED' : 'found'} ${fault.kind} ${fault.subject} ${fault.what} size ${fault.size.toFixed(3)} ${fault.quantity ?? fault.key ?? ''} from ${new Date(fault.start).toISOString().slice(0, 16)} · as ${found?.kind ?? '-'} ${found?.subject ?? found?.candidates?.join('|') ?? '-'} after ${delayH?.toFixed(1) ?? '-'} h (oracle ${oracleH?.toFixed(1) ?? '-'}), start off by ${onsetErrorH?.toFixed(1) ?? '-'} h · ${
            found?.causes
              .slice(0, 3)
              .map((c) => `${c.cause} ${c.weight}`)
              .join(', ') ?? ''
          }`,
        );
      for (const c of answer.cannotTell) console.log(`   cannot tell ${c.kind} ${c.subject}: ${c.because}`);
      for (const f of score.falseAlarms)
        console.log(
          `   FALSE ${f.kind} ${f.subject ?? f.candidates?.join('|')} ${new Date(f.start).toISOString().slice(0, 16)} detected ${new Date(f.detectedAt).toISOString().slice(0, 16)} ${f.measure} ${f.value} (${f.baseline}) ${JSON.stringify(f.evidence).slice(0, 300)}`,
        );
    }
  }
  db.close();
} finally {
  rmSync(folder, { recursive: true, force: true });
}
console.log(sayTable(scores, { readings, analysisMs }));
