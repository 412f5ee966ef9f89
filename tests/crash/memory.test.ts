import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { runChild } from './_start-child.ts';

const T0 = Date.UTC(2026, 0, 1);
const FILE_BYTES = 300e6;

describe.skipIf(process.env.KILTER_LONG === undefined)('memory (set KILTER_LONG to run it)', () => {
  test('an import of 300 MB stays under 400 MB', { timeout: 120_000 }, async () => {
    const folder = mkdtempSync(join(tmpdir(), 'kilter-memory-'));
    const path = join(folder, 'large.ndjson');
    let bytes = 0;
    let lines = 0;
    const file = openSync(path, 'w');
    for (let n = 0; bytes < FILE_BYTES; n++) {
      const text = Array.from({ length: 4000 }, (_, i) => reading(Math.floor((n * 4000 + i) / 8), i % 8)).join('');
      bytes += writeSync(file, text);
      lines += 4000;
    }
    closeSync(file);
    const end = await runChild({ work: 'import', data: join(folder, 'data'), paths: [path] });
    rmSync(folder, { recursive: true });
    expect(end.exitCode).toBe(0);
    expect(end.summary).toMatchObject({ lines, stored: lines });
    console.log(`peak ${Math.round(end.summary!.peakKb! / 1024)} MB, ${end.summary!.seconds} s, ${lines} lines`);
    expect(end.summary!.peakKb! / 1024).toBeLessThan(400);
  });
});

/** A line of one of eight units, every 10 s. */
function reading(tick: number, unit: number): string {
  const watts = 900 + ((tick * 7919 + unit * 31) % 1500);
  return `${JSON.stringify({
    t: T0 + tick * 10_000 + unit,
    site: 'millpond',
    unit: `u${unit + 1}`,
    grid_voltage_v: 230 + (watts % 50) / 10,
    grid_frequency_hz: 49.9 + (watts % 20) / 100,
    output_voltage_v: 230 + (watts % 40) / 10,
    output_power_w: watts,
    dc_voltage_v: 52 + (watts % 30) / 10,
    heatsink_temperature_c: 30 + (watts % 200) / 10,
    mode: 'grid',
  })}\n`;
}
