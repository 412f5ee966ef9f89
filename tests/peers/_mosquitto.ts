/** A broker of another make, on a free port of this machine, that can be stopped, killed and started again. */
import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect as connectSocket, createServer } from 'node:net';
import { tmpdir, userInfo } from 'node:os';
import { join } from 'node:path';
import { connect, type IClientOptions, type MqttClient } from 'mqtt';

export interface Mosquitto {
  readonly port: number;
  readonly url: string;
  readonly folder: string;
  start(): Promise<void>;
  /** @param signal SIGKILL: it writes nothing down any more */
  stop(signal?: 'SIGTERM' | 'SIGKILL'): Promise<void>;
  /** A client of it, connected. Ended with the broker. */
  client(options?: IClientOptions): Promise<MqttClient>;
  /** Stops it and removes its folder. */
  end(): Promise<void>;
}

export async function freePort(): Promise<number> {
  const server = createServer();
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  server.close();
  await once(server, 'close');
  if (address === null || typeof address === 'string') throw new RangeError('Cannot find a free port');
  return address.port;
}

/** Resolves once something listens there. */
export async function untilListening(port: number): Promise<void> {
  for (;;) {
    const isOpen = await new Promise<boolean>((resolve) => {
      const socket = connectSocket(port, '127.0.0.1');
      socket.once('connect', () => {
        socket.destroy();
        resolve(true);
      });
      socket.once('error', () => resolve(false));
    });
    if (isOpen) return;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

/** Resolves once it is so; how it comes to be so is waited for, not for how long. */
export async function until(isSo: () => boolean): Promise<void> {
  while (!isSo()) await new Promise((resolve) => setTimeout(resolve, 10));
}

/** Lines of a broker that writes down each change at once, and so loses nothing when it is killed; it is slow. */
export const SAVES_EACH_CHANGE = ['autosave_on_changes true', 'autosave_interval 1'];

/** @param lines further lines of its configuration */
export async function startMosquitto({
  lines = [],
  isTls = false,
}: {
  lines?: readonly string[];
  isTls?: boolean;
} = {}): Promise<Mosquitto> {
  const folder = mkdtempSync(join(tmpdir(), 'kilter-mosquitto-'));
  const port = await freePort();
  const file = join(folder, 'mosquitto.conf');
  writeFileSync(
    file,
    [
      // As the user who owns the folder: as root it would take another that may not write there.
      `user ${userInfo().username}`,
      'persistence true',
      `persistence_location ${folder}/`,
      'max_queued_messages 0',
      ...(lines.some((line) => line.startsWith('max_inflight')) ? [] : ['max_inflight_messages 0']),
      `listener ${port} 127.0.0.1`,
      ...(lines.some((line) => line.startsWith('allow_anonymous')) ? [] : ['allow_anonymous true']),
      ...lines.map((line) => line.replaceAll('{folder}', folder)),
      '',
    ].join('\n'),
  );
  let child: ChildProcess | null = null;
  // A test that timed out must leave no broker behind.
  const killIt = (): void => {
    child?.kill('SIGKILL');
  };
  process.once('exit', killIt);
  const clients: MqttClient[] = [];
  const broker: Mosquitto = {
    port,
    url: `${isTls ? 'mqtts' : 'mqtt'}://127.0.0.1:${port}`,
    folder,
    async start() {
      child = spawn('mosquitto', ['-c', file], { stdio: 'ignore' });
      await untilListening(port);
    },
    async stop(signal = 'SIGTERM') {
      if (child === null) return;
      const gone = once(child, 'exit');
      child.kill(signal);
      await gone;
      child = null;
    },
    async client(options = {}) {
      const client = connect(broker.url, { reconnectPeriod: 100, ...options });
      client.on('error', () => undefined);
      clients.push(client);
      await new Promise<void>((resolve) => client.once('connect', () => resolve()));
      return client;
    },
    async end() {
      for (const client of clients) await client.endAsync(true);
      await broker.stop('SIGKILL');
      process.removeListener('exit', killIt);
      rmSync(folder, { recursive: true, force: true });
    },
  };
  await broker.start();
  return broker;
}
