import { afterAll, describe, expect, test } from 'vitest';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { dropFolder, type LogLine, run, storeLines } from '../commands/_stored.ts';

const HOUR_MS = 3_600_000;
const T0 = Date.UTC(2026, 2, 2);
const RESUMED_MS = T0 + 100 * HOUR_MS;

/** Two units, a second apart, for an hour; a silence of days; then another hour. */
const lines: LogLine[] = [T0, RESUMED_MS].flatMap((from) =>
  Array.from({ length: 60 }, (_, minute) =>
    ['u1', 'u2'].map((unit, k) => ({
      t: new Date(from + minute * 60_000 + k * 1000).toISOString(),
      site: 'millpond',
      unit,
      output_voltage_v: 230,
      mode: 'grid',
    })),
  ).flat(),
);
const folder = storeLines(lines);
afterAll(() => dropFolder(folder));

async function silent(...more: string[]): Promise<Record<string, unknown>[]> {
  const { out } = await run(
    [findingsCommand],
    ['findings', '--data', folder, '--kind', 'site_silent', '--json', ...more],
  );
  return out.map((line) => JSON.parse(line) as Record<string, unknown>);
}

describe('onceTakenIn', () => {
  test('a silence of days is told once the first reading after it is no longer set aside', async () => {
    expect(await silent()).toMatchObject([
      { end: new Date(RESUMED_MS).toISOString(), detected_at: new Date(RESUMED_MS + 1000).toISOString() },
    ]);
  });

  test('that is the least time at which the finding is printed', async () => {
    expect(await silent('--as-of', new Date(RESUMED_MS + 999).toISOString())).toEqual([]);
    expect(await silent('--as-of', new Date(RESUMED_MS + 1000).toISOString())).toHaveLength(1);
  });
});
