import { describe, expect, test } from 'vitest';
import { planFleet } from '../../../ingest/demo/fleet.ts';
import { createRowSink, takeBatch } from '../../../ingest/demo/row-sink.ts';
import { createSiteRun, simulateDay, sourceKeys } from '../../../ingest/demo/simulate-site.ts';
import type { ReadingBatch } from '../../../ingest/vocabulary/reading.ts';
import { sourceName } from '../../../ingest/vocabulary/reading.ts';
import { DAY_MS, epochMs } from '../../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../../ingest/wire/ndjson.ts';

/** Every reading as one text: source, time, and its values by column. */
function readingsOf(batch: ReadingBatch): string[] {
  const { rows, rowsLength, sources } = batch;
  const out: string[] = [];
  for (let at = 0; at < rowsLength; ) {
    const end = at + 3 + 2 * rows[at + 2]!;
    const pairs: string[] = [];
    for (let i = at + 3; i < end; i += 2) pairs.push(`${rows[i]}=${rows[i + 1]}`);
    out.push(`${sourceName(sources[rows[at]!]!)} ${rows[at + 1]} ${pairs.sort().join(' ')}`);
    at = end;
  }
  return out.sort();
}

describe('rows of the demo', () => {
  test('are the readings that its log lines say, value for value', () => {
    const from = epochMs(Date.UTC(2026, 2, 2));
    const period = { from, to: epochMs(from + 3 * DAY_MS), everyMs: 60_000, eventEveryMs: 60_000 };
    const runOf = () => createSiteRun(planFleet({ seed: 1, period, sites: 3 })[2]!, period, 1, 'ndjson');
    const [asText, asRows] = [runOf(), runOf()];
    asRows.rows = createRowSink(16);
    for (let day: number = from; day < period.to; day += DAY_MS) {
      const text = createNdjsonDecoder().decode(simulateDay(asText, day)[0]!.bytes.slice(), 1);
      const rest = createNdjsonDecoder().decode(simulateDay(asRows, day)[0]!.bytes.slice(), 1);
      const rows = takeBatch(asRows.rows, sourceKeys(asRows));
      expect(rows.readings).toBeGreaterThan(5000);
      expect([...readingsOf(rows), ...readingsOf(rest)].sort()).toEqual(readingsOf(text));
    }
  });
});
