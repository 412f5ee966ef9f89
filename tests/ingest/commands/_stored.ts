/** A small store in a temporary folder, and commands run against it. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Command, Io } from '../../../ingest/commands/command.ts';
import { runKilter } from '../../../ingest/commands/run-kilter.ts';
import { createIntake } from '../../../ingest/intake/intake.ts';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import { openStore } from '../../../ingest/store/open-store.ts';
import { createReadingStore } from '../../../ingest/store/reading-store.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../../ingest/wire/ndjson.ts';
import { MILLPOND } from '../site/millpond.ts';

export type LogLine = Readonly<Record<string, unknown>>;

export const at = (text: string): number => Date.parse(`2026-03-${text}Z`);

/** Stores lines and records in a new folder, as an import does. */
export function storeLines(lines: readonly LogLine[], records: readonly string[] = [MILLPOND]): string {
  const folder = mkdtempSync(join(tmpdir(), 'kilter-commands-'));
  addLines(folder, lines, records);
  return folder;
}

export function addLines(folder: string, lines: readonly LogLine[], records: readonly string[] = []): void {
  const store = createReadingStore(openStore(folder));
  const { histories } = checkSites(records.map((text) => ({ file: 'sites.yaml', text })));
  for (const history of histories.values()) store.addRecord(history, 0);
  const bytes = new TextEncoder().encode(lines.map((line) => `${JSON.stringify(line)}\n`).join(''));
  const intake = createIntake(store);
  const batch = createNdjsonDecoder().decode(bytes, 1);
  if (batch.refused.length > 0) throw new RangeError(`Cannot store the lines of a test: ${batch.refused[0]!.what}`);
  intake.take(batch);
  intake.flush();
  store.db.close();
}

export function dropFolder(folder: string): void {
  rmSync(folder, { recursive: true });
}

export interface Ran {
  readonly code: number;
  readonly out: readonly string[];
  readonly err: readonly string[];
}

/** Runs a command line as the entry does. */
export async function run(commands: readonly Command[], args: readonly string[], columns = 100): Promise<Ran> {
  const out: string[] = [];
  const err: string[] = [];
  const io: Io = {
    out: (line) => out.push(...line.split('\n')),
    err: (line) => err.push(line),
    draw: () => {},
    drained: () => Promise.resolve(),
    outIsTerminal: false,
    errIsTerminal: false,
    columns,
    now: () => epochMs(0),
    onStop: () => {},
  };
  const code = await runKilter({ commands, version: '9.9.9', isDebug: false }, args, io);
  return { code, out, err };
}

export const parsed = ({ out }: Ran): Record<string, unknown>[] =>
  out.map((line) => JSON.parse(line) as Record<string, unknown>);

/**
 * Millpond for eight hours of 10 March, a reading a minute: a grid loss from 02:00 to 03:00 and a setting that
 * differs from 01:00 on. u2 says nothing from 05:00 to 06:00; a unit u9 and a site sawpit are in no record.
 */
export function millpondLines(): LogLine[] {
  const lines: LogLine[] = [];
  for (let t = at('10T00:00:00'); t < at('10T08:00:00'); t += 60_000) {
    const isAway = t >= at('10T02:00:00') && t < at('10T03:00:00');
    for (const unit of ['u1', 'u2']) {
      if (unit === 'u2' && t >= at('10T05:00:00') && t < at('10T06:00:00')) continue;
      lines.push({
        t: new Date(t).toISOString(),
        site: 'millpond',
        unit,
        mode: isAway ? 'backup' : 'grid',
        grid_voltage_v: isAway ? 0 : 229.8,
        ...(isAway ? {} : { grid_frequency_hz: 50 }),
        output_voltage_v: 230,
        output_frequency_hz: 50.01,
        output_power_w: unit === 'u1' ? 1200 : 1100,
        battery_soc_pct: 80,
      });
    }
    for (const pack of ['p1', 'p2']) {
      lines.push({ t: t + 3000, site: 'millpond', pack, pack_voltage_v: 53.24, pack_current_a: -4.2, soc_pct: 80 });
    }
  }
  lines.push(
    { t: at('10T00:00:00'), site: 'millpond', unit: 'u1', settings: { battery_type: 'lithium', battery_shared: true } },
    { t: at('10T00:00:00'), site: 'millpond', unit: 'u2', settings: { battery_type: 'lithium', battery_shared: true } },
    { t: at('10T01:00:00'), site: 'millpond', unit: 'u2', settings: { battery_type: 'lead' } },
    { t: at('10T04:00:00'), site: 'millpond', unit: 'u2', alarm: 'over temperature', state: 'raised' },
    { t: at('10T04:00:00'), site: 'millpond', unit: 'u9', output_power_w: 5 },
    { t: at('10T04:00:00'), site: 'sawpit', unit: 'u1', output_power_w: 5 },
  );
  return lines;
}
