/** `kilter readings --every` says what anybody would compute from the readings themselves. */
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readingsCommand } from '../../ingest/commands/readings.ts';
import { DAY_MS, formatTime, HOUR_MS, MINUTE_MS } from '../../ingest/vocabulary/time.ts';
import { at, dropFolder, parsed, run, storeLines } from '../ingest/commands/_stored.ts';

const FROM = at('10T00:00:00');
const EVERY: readonly (readonly [string, number])[] = [
  ['15s', 15_000],
  ['1m', MINUTE_MS],
  ['6h', 6 * HOUR_MS],
  ['1d', DAY_MS],
  ['2d', 2 * DAY_MS],
];

/** Instants over three days, to the second, with a value in tenths or none. */
const readings = fc.uniqueArray(
  fc.record({
    second: fc.integer({ min: 0, max: (3 * DAY_MS) / 1000 - 1 }),
    tenths: fc.option(fc.integer({ min: -4000, max: 4000 })),
  }),
  { minLength: 1, maxLength: 60, selector: ({ second }) => second },
);

interface Asked {
  readonly t: number;
  readonly v: number | null;
}

/** By hand: sort into intervals, then least, mean, greatest of what is there. */
function byHand(rows: readonly Asked[], everyMs: number): Record<string, unknown>[] {
  const starts = [...new Set(rows.map(({ t }) => t - (((t % everyMs) + everyMs) % everyMs)))].sort((a, b) => a - b);
  return starts.map((start) => {
    const values = rows.filter(({ t }) => t >= start && t < start + everyMs).flatMap(({ v }) => v ?? []);
    const key = { t: formatTime(start), site: 'millpond', unit: 'u1' };
    if (values.length === 0) return key;
    const tenths = values.reduce((sum, v) => sum + Math.round(v * 10), 0);
    const mean = tenths / (10 * values.length);
    return { ...key, grid_voltage_v: { min: Math.min(...values), mean, max: Math.max(...values) } };
  });
}

describe('kilter readings --every', () => {
  test('equals a plain recomputation for any readings, interval and window', async () => {
    await fc.assert(
      fc.asyncProperty(
        readings,
        fc.constantFrom(...EVERY),
        fc.integer({ min: 0, max: 40 * HOUR_MS }),
        async (some, [every, everyMs], cutMs) => {
          const rows = some.map(({ second, tenths }) => ({
            t: FROM + second * 1000,
            v: tenths === null ? null : tenths / 10 + 0,
          }));
          const folder = storeLines(
            rows.map(({ t, v }) => ({ t, site: 'millpond', unit: 'u1', load_pct: 1, grid_voltage_v: v })),
          );
          const from = FROM + cutMs;
          const to = FROM + 3 * DAY_MS - cutMs / 2;
          const window = ['--from', formatTime(from), '--to', formatTime(to), '--quantity', 'grid_voltage_v'];
          const args = ['readings', '--data', folder, '--site', 'millpond', '--unit', 'u1', '--every', every];
          const ran = await run([readingsCommand], [...args, ...window, '--json']);
          dropFolder(folder);
          expect(parsed(ran)).toEqual(
            byHand(
              rows.filter(({ t }) => t >= from && t < to),
              everyMs,
            ),
          );
        },
      ),
      { numRuns: 60 },
    );
  });
});
