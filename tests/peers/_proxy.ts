/** A TCP proxy that delays, cuts and swallows, between a client and a server on this machine. */
import { once } from 'node:events';
import { connect, createServer, type Socket } from 'node:net';

export interface Proxy {
  readonly port: number;
  /** Bytes wait for so long in each direction, ms. */
  delayMs: number;
  /** Swallows what passes, as a line does that is dead but was not closed. */
  isDead: boolean;
  /** Cuts every connection that stands. @returns how many */
  cut(): number;
  readonly connections: number;
  end(): Promise<void>;
}

export async function startProxy(target: number): Promise<Proxy> {
  const pairs = new Set<readonly [Socket, Socket]>();
  let connections = 0;
  const server = createServer((inner) => {
    connections += 1;
    const outer = connect(target, '127.0.0.1');
    const pair = [inner, outer] as const;
    pairs.add(pair);
    const close = (): void => {
      pairs.delete(pair);
      inner.destroy();
      outer.destroy();
    };
    const forward = (from: Socket, to: Socket): void => {
      from.on('data', (bytes) => {
        if (proxy.isDead) return;
        const write = (): void => {
          if (!to.destroyed) to.write(bytes);
        };
        // Timers of equal length end in the order in which they began.
        if (proxy.delayMs > 0) setTimeout(write, proxy.delayMs);
        else write();
      });
      from.on('error', close);
      from.on('close', close);
    };
    forward(inner, outer);
    forward(outer, inner);
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const address = server.address();
  if (address === null || typeof address === 'string') throw new RangeError('Cannot listen for the proxy');
  const proxy: Proxy = {
    port: address.port,
    delayMs: 0,
    isDead: false,
    cut() {
      const all = [...pairs];
      for (const [inner, outer] of all) {
        inner.destroy();
        outer.destroy();
      }
      return all.length;
    },
    get connections() {
      return connections;
    },
    async end() {
      proxy.cut();
      server.close();
      await once(server, 'close');
    },
  };
  return proxy;
}
