/** Ports on loopback that nobody has; the same from start to start where they are still free, so that sources keep their names. */
import { readFileSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { z } from 'zod';

const fileSchema = z.record(z.string(), z.int());

export class KeptPorts {
  readonly #path: string;
  readonly #ports: Map<string, number>;

  constructor(path: string) {
    this.#path = path;
    this.#ports = new Map(Object.entries(readPorts(path)));
  }

  /** Lets a server listen. @returns its port */
  async listen(name: string, server: Server): Promise<number> {
    const port = await listening(server, this.#ports.get(name) ?? 0).catch(() => listening(server, 0));
    this.#ports.set(name, port);
    writeFileSync(this.#path, JSON.stringify(Object.fromEntries(this.#ports)));
    return port;
  }

  /** A port for who can't take a server: free a moment ago. */
  async free(name: string): Promise<number> {
    const asked = createServer();
    const port = await this.listen(name, asked);
    await new Promise<void>((resolve) => asked.close(() => resolve()));
    return port;
  }
}

function readPorts(path: string): Readonly<Record<string, number>> {
  try {
    return fileSchema.parse(JSON.parse(readFileSync(path, 'utf8')));
  } catch {
    // The first start, or a file that somebody changed: others are as good.
    return {};
  }
}

function listening(server: Server, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, '127.0.0.1', () => {
      server.removeListener('error', reject);
      const address = server.address();
      resolve(typeof address === 'object' && address !== null ? address.port : 0);
    });
  });
}
