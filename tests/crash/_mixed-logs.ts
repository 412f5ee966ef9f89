/** Logs as they come in bad times: a small demo fleet with lines that are late, repeated, contradicting, broken. */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { createPrng } from '../../ingest/demo/prng.ts';
import { writeDemo } from '../../ingest/demo/write-demo.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';
import { zstdStored } from './_zstd-stored.ts';

const FROM = epochMs(Date.UTC(2026, 2, 2));

export interface MixedLogs {
  readonly logs: string;
  readonly sitesFile: string;
  /** All lines of all files that are not blank. */
  readonly lines: number;
  readonly refused: number;
}

export async function writeMixedLogs(
  folder: string,
  { seed, sites, days, everyS, files }: { seed: number; sites: number; days: number; everyS: number; files: number },
): Promise<MixedLogs> {
  const prng = createPrng(seed, 'mixed logs');
  const say = (): void => undefined;
  const demo = await writeDemo({ out: join(folder, 'demo'), seed, from: FROM, days, everyS, sites, say });
  const lines = demo.files.flatMap((file) => readFileSync(file, 'utf8').trimEnd().split('\n'));
  const later = lines.filter(() => prng.chance(0.03)).flatMap((line) => troubled(line, prng.whole(0, 6)));
  const broken = Array.from(
    { length: 12 },
    (_, n) => `{"t":"2026-03-02T0${n % 10}:00:00Z","site":"millpond","unit":"u`,
  );
  for (const line of [...later, ...broken])
    lines.splice(prng.whole(Math.floor(lines.length / 3), lines.length), 0, line);

  const logs = join(folder, 'logs');
  mkdirSync(logs);
  const size = Math.ceil(lines.length / files);
  for (let n = 0; n < files; n++) {
    const text = Buffer.from(`${lines.slice(n * size, (n + 1) * size).join('\n')}\n`);
    const name = join(logs, `part-${String(n).padStart(2, '0')}.ndjson`);
    if (n % 3 === 0) writeFileSync(`${name}.gz`, gzipSync(text));
    else if (n % 3 === 1) writeFileSync(`${name}.zst`, zstdStored(text));
    else writeFileSync(name, text);
  }
  const rows = await writeCsv(folder, logs, seed, sites);
  return { logs, sitesFile: demo.sitesFile, lines: lines.length + rows, refused: broken.length };
}

/** What may become of a line on its way. */
function troubled(line: string, fate: number): string[] {
  const fields = JSON.parse(line) as Record<string, unknown>;
  const numeric = Object.keys(fields).filter((key) => key !== 't' && typeof fields[key] === 'number');
  const key = numeric[fate % Math.max(1, numeric.length)];
  const other = key === undefined ? fields : { ...fields, [key]: (fields[key] as number) + 1 };
  const { t, site, unit, pack } = fields;
  const source = unit === undefined ? { pack: pack ?? 'p1' } : { unit };
  switch (fate) {
    case 0:
      return [JSON.stringify(other)];
    case 1:
      return [JSON.stringify({ ...other, replaces: true, revision: 2 }), JSON.stringify(other)];
    case 2:
      return [JSON.stringify({ ...fields, 'door open': { b: [1], a: 'yes' } })];
    case 3:
      return [JSON.stringify({ t, site, ...source, alarm: 'fan', state: 'raised' })];
    case 4:
      return [JSON.stringify({ t, site, unit: 'u1', settings: { low_soc_cutoff_pct: 20 + (line.length % 3) } })];
    default:
      return [line, line];
  }
}

/** The same instants told otherwise, by CSV. @returns how many rows */
async function writeCsv(folder: string, logs: string, seed: number, sites: number): Promise<number> {
  const out = join(folder, 'demo-csv');
  const say = (): void => undefined;
  const demo = await writeDemo({ out, seed: seed + 1, from: FROM, days: 1, everyS: 1200, sites, format: 'csv', say });
  let rows = 0;
  for (const [n, file] of demo.files.filter((path) => path.endsWith('.csv')).entries()) {
    const lines = readFileSync(file, 'utf8').trimEnd().split('\n');
    rows += lines.length - 1;
    writeFileSync(join(logs, `told-again-${n}.csv`), `${lines.join('\n')}\n`);
  }
  return rows;
}
