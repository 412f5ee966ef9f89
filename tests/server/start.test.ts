/** `kilter start` as a process: a tiny demo fleet from nothing to answers, and stopped in time. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { fleetAnswerSchema } from '../../server/contract/fleet.ts';
import { readFleet } from '../../server/contract/read-fleet.ts';
import { siteAnswerSchema } from '../../server/contract/site.ts';

const KILTER = 'dist/server/kilter.js';
let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-start-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Started {
  readonly process: ChildProcess;
  readonly address: string;
  readonly said: () => string;
}

function start(...args: string[]): Promise<Started> {
  const child = spawn(process.execPath, [KILTER, ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  return new Promise((resolve, reject) => {
    const hear = (bytes: Buffer): void => {
      said += bytes.toString();
      const address = /Kilter is at (http:\S+)/.exec(said)?.[1];
      if (address !== undefined) resolve({ process: child, address, said: () => said });
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.once('exit', (code) => reject(new Error(`it ended with ${code}: ${said}`)));
  });
}

async function until<T>(ask: () => Promise<T | null>, forMs = 90_000): Promise<T> {
  const endMs = Date.now() + forMs;
  for (;;) {
    const answer = await ask();
    if (answer !== null) return answer;
    if (Date.now() > endMs) throw new Error('it did not come in time');
    await new Promise((resolve) => setTimeout(resolve, 300));
  }
}

const ended = (child: ChildProcess): Promise<{ code: number | null; ms: number }> =>
  new Promise((resolve) => {
    const startedMs = Date.now();
    child.removeAllListeners('exit');
    child.once('exit', (code) => resolve({ code, ms: Date.now() - startedMs }));
    child.kill('SIGTERM');
  });

const fleetOf = async (address: string) =>
  readFleet(fleetAnswerSchema.parse(await (await fetch(`${address}/api/fleet`)).json()));

describe('kilter start', () => {
  test('shows a tiny fleet, goes on living, stops when asked, and goes on at the next start', {
    timeout: 180_000,
  }, async () => {
    const data = join(folder, 'demo');
    const args = ['start', '--data', data, '--port', '0', '--sites', '2', '--days', '3', '--every', '10'];
    const first = await start(...args);
    const fleet = await until(async () => {
      const now = await fleetOf(first.address);
      const isStored =
        now.rows.length === 2 && now.rows.every(({ heardAt }) => heardAt !== null && now.now - heardAt < 60_000);
      return isStored ? now : null;
    });
    expect(fleet.rows.map(({ chargePct }) => chargePct.every((pct) => pct !== null))).toEqual([true, true]);
    const site = fleet.rows[0]!.site;
    const page = await until(async () => {
      const answer = siteAnswerSchema.parse(await (await fetch(`${first.address}/api/sites/${site}`)).json());
      return answer.cannotTell.length + answer.findings.length + answer.figures.length > 0 ? answer : null;
    });
    expect(page.record.name).toBe(fleet.rows[0]!.name);
    // The present is written as log files, and read from them.
    const newer = await until(async () => {
      const now = await fleetOf(first.address);
      return now.rows[0]!.heardAt! > fleet.rows[0]!.heardAt! ? now : null;
    });
    await until(async () =>
      existsSync(join(data, 'incoming')) && readdirSync(join(data, 'incoming')).length > 0 ? true : null,
    );
    const stopped = await ended(first.process);
    expect([stopped.code, first.said()]).toEqual([0, expect.not.stringMatching(/error/i)]);

    const second = await start(...args);
    expect((await fleetOf(second.address)).rows[0]!.heardAt).toBeGreaterThanOrEqual(newer.rows[0]!.heardAt!);
    await until(async () => (/lives on/.test(second.said()) ? true : null));
    expect(second.said()).toContain('goes on');
    expect((await ended(second.process)).code).toBe(0);
  });

  test('a port that is taken, a folder of something else, a wrong configuration: said in words, exit code 1', async () => {
    const blocker = createServer();
    const port = await new Promise<number>((resolve) => {
      blocker.listen(0, '127.0.0.1', () => resolve((blocker.address() as { port: number }).port));
    });
    const ask = (...args: string[]) => spawnSync(process.execPath, [KILTER, ...args], { encoding: 'utf8' });
    const taken = ask('serve', '--data', join(folder, 'other'), '--port', String(port));
    blocker.close();
    expect([taken.status, taken.stderr]).toEqual([
      1,
      expect.stringContaining('another program listens there already; stop it'),
    ]);
    // That folder holds a readings database now, and no demo.
    const other = ask('start', '--data', join(folder, 'other'), '--port', '0');
    expect([other.status, other.stderr]).toEqual([1, expect.stringContaining('not of the demo fleet')]);
    const file = join(folder, 'kilter.yaml');
    writeFileSync(file, 'listen: { host: 0.0.0.0 }\nsources: [{ kind: fax }]\n');
    const wrong = ask('start', '--config', file);
    expect(wrong.status).toBe(1);
    expect(wrong.stderr).toMatch(/data is missing[\s\S]*kind is "fax"; write kind/);
    expect(ask('ingest').stderr).toContain('give --config kilter.yaml');
  });
});
