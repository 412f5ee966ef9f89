/** Demo logs for the bench, generated once for each set of options and kept beside it. */
import { existsSync } from 'node:fs';
import { mkdir, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { writeDemo } from '../../ingest/demo/write-demo.ts';
import { epochMs } from '../../ingest/vocabulary/time.ts';

/** tests/bench: the compiled file runs from tests/bench/.build/tests/bench. */
export const BENCH_FOLDER = join(import.meta.dirname, '../../..');
const DATA_FOLDER = join(BENCH_FOLDER, '.data');

export const FIRST_DAY_MS = Date.UTC(2026, 2, 2);
const SEED = 1;

export interface BenchData {
  readonly folder: string;
  readonly sitesFile: string;
  readonly logs: string;
  readonly words: string;
}

export interface DataSize {
  readonly sites: number;
  readonly days: number;
  readonly everyS: number;
  readonly format: 'ndjson' | 'csv';
  readonly gzip: boolean;
}

export async function benchData(size: DataSize, say: (line: string) => void): Promise<BenchData> {
  const form = `${size.format}${size.gzip ? '.gz' : ''}`;
  const folder = join(DATA_FOLDER, `${size.sites}-sites-${size.days}-days-${size.everyS}-s-${form}`);
  const words = `${size.sites} sites × ${size.days} days × ${size.everyS} s, ${form}`;
  if (!existsSync(folder)) {
    say(`generating ${words}`);
    const unready = `${folder}.unready`;
    await rm(unready, { recursive: true, force: true });
    await writeDemo({ ...size, out: unready, seed: SEED, from: epochMs(FIRST_DAY_MS), say: () => undefined });
    await rename(unready, folder);
  }
  return { folder, sitesFile: join(folder, 'sites.yaml'), logs: join(folder, 'logs'), words };
}

/** A file made from others, generated once. */
export async function keptFile(name: string, make: (path: string) => Promise<void>): Promise<string> {
  const path = join(DATA_FOLDER, name);
  if (!existsSync(path)) {
    await mkdir(DATA_FOLDER, { recursive: true });
    await make(`${path}.unready`);
    await rename(`${path}.unready`, path);
  }
  return path;
}

/** An empty folder for what one run stores. */
export async function freshFolder(name: string): Promise<string> {
  const path = join(DATA_FOLDER, 'runs', name);
  await rm(path, { recursive: true, force: true });
  await mkdir(path, { recursive: true });
  return path;
}

/** @returns the file, written */
export async function writeOut(name: string, text: string): Promise<string> {
  const folder = join(BENCH_FOLDER, 'out');
  await mkdir(folder, { recursive: true });
  await writeFile(join(folder, name), text);
  return join(folder, name);
}
