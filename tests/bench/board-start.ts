/** `npm start` from built: how soon the fleet is there, and what its processes hold. */
import { type ChildProcess, spawn } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { FleetAnswer } from '../../server/contract/fleet.ts';
import { BENCH_FOLDER, freshFolder } from './bench-data.ts';

const PROGRAM = join(BENCH_FOLDER, '../../dist/server/kilter.js');
const GIVE_UP_MS = 240_000;
const LOOK_MS = 250;
const SITES = 12;

export interface Started {
  /** Until the server answers with its first site, and with all of them, s. */
  readonly firstSiteS: number;
  readonly allSitesS: number;
  readonly serverMb: number;
  readonly workerMb: number;
}

/** Resident memory now, MB. */
const residentMb = (pid: number): number =>
  Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? Number.NaN) / 1024;

function childrenOf(pid: number): { readonly pid: number; readonly command: string }[] {
  return readdirSync('/proc')
    .filter((name) => /^\d+$/.test(name))
    .flatMap((name) => {
      try {
        const stat = readFileSync(`/proc/${name}/stat`, 'utf8');
        const parent = Number(stat.slice(stat.lastIndexOf(')') + 2).split(' ')[1]);
        const command = readFileSync(`/proc/${name}/cmdline`, 'utf8').replaceAll('\0', ' ');
        return parent === pid ? [{ pid: Number(name), command }] : [];
      } catch {
        return [];
      }
    });
}

const wait = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

async function until<Value>(look: () => Promise<Value | null>, startedMs: number): Promise<Value> {
  for (;;) {
    const value = await look().catch(() => null);
    if (value !== null) return value;
    if (performance.now() - startedMs > GIVE_UP_MS) throw new Error('The demo fleet did not come in time');
    await wait(LOOK_MS);
  }
}

function addressOf(child: ChildProcess): Promise<string> {
  return new Promise((resolve, reject) => {
    let out = '';
    child.stdout?.on('data', (piece) => {
      out += piece;
      const address = /Kilter is at (\S+)/.exec(out)?.[1];
      if (address !== undefined) resolve(address);
    });
    child.once('exit', (code) => reject(new Error(`kilter start ended with ${code}: ${out}`)));
  });
}

export async function startDemo(): Promise<Started> {
  const data = await freshFolder('board-start');
  const startedMs = performance.now();
  const child = spawn(process.execPath, [PROGRAM, 'start', '--data', data, '--port', '0'], {
    stdio: ['ignore', 'pipe', 'ignore'],
  });
  const secondsNow = (): number => (performance.now() - startedMs) / 1000;
  try {
    const address = await addressOf(child);
    const judged = async (): Promise<number> => {
      const fleet = (await (await fetch(`${address}/api/fleet`)).json()) as FleetAnswer;
      return fleet.heardAgeS.filter((age) => age >= 0).length;
    };
    const firstSiteS = await until(async () => ((await judged()) > 0 ? secondsNow() : null), startedMs);
    const allSitesS = await until(async () => ((await judged()) >= SITES ? secondsNow() : null), startedMs);
    // What was needed to catch up is given back after a while; what it lives with is what counts.
    await wait(20_000);
    const worker = childrenOf(child.pid!).find(({ command }) => command.includes('ingest/worker'));
    return {
      firstSiteS,
      allSitesS,
      serverMb: residentMb(child.pid!),
      workerMb: worker === undefined ? Number.NaN : residentMb(worker.pid),
    };
  } finally {
    const ended = new Promise((resolve) => child.once('exit', resolve));
    child.kill('SIGTERM');
    await ended;
  }
}
