/** Starts a program of another house as a peer, waits until it serves, and stops it for certain. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { createServer } from 'node:net';

export interface Peer {
  readonly process: ChildProcess;
  readonly output: () => string;
  stop(): Promise<void>;
}

/** A port that nothing listens on now. */
export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  await new Promise((resolve) => server.close(resolve));
  if (address === null || typeof address === 'string') throw new Error('Cannot find a free port');
  return address.port;
}

export const hasProgram = (name: string): boolean => spawnSync('which', [name]).status === 0;

/** @param isReady told all output so far */
export async function startPeer(
  command: string,
  args: readonly string[],
  isReady: (output: string) => boolean,
): Promise<Peer> {
  const child = spawn(command, args, { stdio: ['ignore', 'pipe', 'pipe'] });
  let output = '';
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  await new Promise<void>((resolve, reject) => {
    const look = (bytes: Buffer): void => {
      output += bytes.toString();
      if (isReady(output)) resolve();
    };
    child.stdout.on('data', look);
    child.stderr.on('data', look);
    child.once('error', reject);
    child.once('exit', (code) => reject(new Error(`${command} ended with ${code}: ${output}`)));
  });
  return {
    process: child,
    output: () => output,
    async stop() {
      child.kill('SIGKILL');
      await ended;
    },
  };
}
