/** Simulated fleets in stores of their own, made once for each size and kept. */
import { existsSync } from 'node:fs';
import { mkdir, rename, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { BENCH_FOLDER, FIRST_DAY_MS } from './bench-data.ts';
import { runChild } from './run-child.ts';

export interface BoardSize {
  readonly name: string;
  readonly sites: number;
  readonly days: number;
  readonly everyS: number;
  readonly eventEveryS: number;
}

const FOLDER = join(BENCH_FOLDER, '.data', 'board');

/** The folder of a judged fleet. */
export async function boardStore(size: BoardSize, say: (line: string) => void): Promise<string> {
  const { name, sites, days, everyS, eventEveryS } = size;
  const folder = join(FOLDER, `${name}-${sites}-${days}-${everyS}`);
  if (existsSync(folder)) return folder;
  say(`storing ${sites} sites × ${days} days × ${everyS} s (${eventEveryS} s on days with a grid loss)`);
  const unready = `${folder}.unready`;
  await rm(unready, { recursive: true, force: true });
  await mkdir(FOLDER, { recursive: true });
  const asked = { data: unready, fromMs: FIRST_DAY_MS, sites, days, everyS, eventEveryS };
  const made = await runChild<{ readings: number; findings: number; events: number }>('board-store-child.js', asked);
  say(`${made.readings.toLocaleString('en')} readings, ${made.findings} findings, ${made.events} backup events`);
  await rename(unready, folder);
  return folder;
}
