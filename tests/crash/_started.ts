/** Parts of Kilter as processes that may be killed and started again. */
import { type ChildProcess, spawn } from 'node:child_process';
import { createServer } from 'node:net';

const KILTER = 'dist/server/kilter.js';

export interface StartedPart {
  readonly name: string;
  /** Ends it as a loss of power ends a process, and starts it again. */
  killAndRestart(): Promise<void>;
  /** Asks it to stop. @returns its exit code, and how long it took */
  stop(): Promise<{ readonly code: number | null; readonly ms: number }>;
  signal(name: NodeJS.Signals): void;
  readonly said: () => string;
}

/** @param isReady what it says once it works */
export async function startPart(
  name: string,
  args: readonly string[],
  isReady: RegExp,
  env: Readonly<Record<string, string>> = {},
): Promise<StartedPart> {
  let said = '';
  let child: ChildProcess;
  const start = (): Promise<void> =>
    new Promise((resolve, reject) => {
      const from = said.length;
      child = spawn(process.execPath, [KILTER, ...args], {
        stdio: ['ignore', 'pipe', 'pipe'],
        env: { ...process.env, ...env },
      });
      const hear = (bytes: Buffer): void => {
        said += bytes.toString();
        if (isReady.test(said.slice(from))) resolve();
      };
      child.stdout!.on('data', hear);
      child.stderr!.on('data', hear);
      child.once('exit', (code) => reject(new Error(`${name} ended with ${code}: ${said.slice(from)}`)));
    });
  await start();
  const end = (signal: NodeJS.Signals): Promise<number | null> =>
    new Promise((resolve) => {
      child.removeAllListeners('exit');
      if (child.exitCode !== null || child.signalCode !== null) resolve(child.exitCode);
      else child.once('exit', resolve);
      child.kill(signal);
    });
  return {
    name,
    async killAndRestart() {
      await end('SIGKILL');
      await start();
    },
    async stop() {
      const startedMs = performance.now();
      const code = await end('SIGTERM');
      return { code, ms: performance.now() - startedMs };
    },
    signal: (signal) => void child.kill(signal),
    said: () => said,
  };
}

export function freePort(): Promise<number> {
  return new Promise((resolve) => {
    const server = createServer();
    server.listen(0, '127.0.0.1', () => {
      const { port } = server.address() as { port: number };
      server.close(() => resolve(port));
    });
  });
}

/** Asks until it is so. */
export async function until(what: string, isSo: () => boolean | Promise<boolean>, forMs = 60_000): Promise<void> {
  const endMs = performance.now() + forMs;
  while (!(await isSo())) {
    if (performance.now() > endMs) throw new Error(`It did not come to be in time: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}
