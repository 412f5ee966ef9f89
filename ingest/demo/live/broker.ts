/** An MQTT 3.1.1 broker on loopback for the demo fleet, with a second door that fails when a site loses its link. */
import { createServer, type Socket } from 'node:net';
import { Aedes } from 'aedes';
import type { KeptPorts } from './kept-ports.ts';

export interface DemoBroker {
  readonly port: number;
  /** The door of the courier. */
  readonly linkPort: number;
  /** Closes or opens the courier's door; what is connected through it is cut off. */
  setLink(isUp: boolean): void;
  /** QoS 1: kept for clients of a lasting session that are away. */
  publish(topic: string, payload: string | Uint8Array): void;
  /** Calls back when somebody begins to listen to a filter that starts with the text. */
  onListener(start: string, heard: () => void): void;
  close(): Promise<void>;
}

/** Messages for a client that is away are kept in memory: about an hour of the fleet. */
const MOST_WAITING = 30_000;

export async function openBroker(ports: KeptPorts): Promise<DemoBroker> {
  const broker = await Aedes.createBroker({ queueLimit: 1000 });
  const links = new Set<Socket>();
  let isUp = true;
  let waiting = 0;
  const main = createServer((socket) => void broker.handle(socket));
  const link = createServer((socket) => {
    socket.on('error', () => undefined);
    if (!isUp) {
      socket.destroy();
      return;
    }
    links.add(socket);
    socket.once('close', () => links.delete(socket));
    broker.handle(socket);
  });
  for (const event of ['clientError', 'connectionError'] as const) broker.on(event, () => undefined);
  const [port, linkPort] = [await ports.listen('broker', main), await ports.listen('link', link)];
  return {
    port,
    linkPort,
    setLink(next) {
      isUp = next;
      if (!isUp) for (const socket of links) socket.destroy();
    },
    publish(topic, payload) {
      // With nobody there to listen for long the newest are given up, not the memory.
      waiting = broker.connectedClients > 0 ? 0 : waiting + 1;
      if (waiting > MOST_WAITING) return;
      const packet = {
        cmd: 'publish',
        qos: 1,
        retain: false,
        dup: false,
        topic,
        payload: Buffer.from(payload),
      } as const;
      broker.publish(packet, () => undefined);
    },
    onListener(start, heard) {
      broker.on('subscribe', (subscriptions) => {
        if (subscriptions.some(({ topic }) => topic.startsWith(start))) heard();
      });
    },
    async close() {
      for (const socket of links) socket.destroy();
      await new Promise<void>((resolve) => broker.close(() => resolve()));
      for (const server of [main, link]) server.close();
    },
  };
}
