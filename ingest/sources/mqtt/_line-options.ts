/** How a line is opened: who we are, by what certificate, and for how long the broker keeps what we miss. */
import { randomUUID } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { IClientOptions } from 'mqtt';
import { DAY_MS, SECOND_MS } from '../../vocabulary/time.ts';
import type { MqttConfig } from './mqtt-config.ts';

/** Half of what a router forgets an idle connection after. */
const KEEPALIVE_S = 30;
const CONNECT_TIMEOUT_MS = 10 * SECOND_MS;
/** As long as a small computer may be away for repair. */
const SESSION_EXPIRY_S = (30 * DAY_MS) / SECOND_MS;
/** Messages that the broker sends ahead of our acknowledgements: some transactions full, at a few hundred bytes each. */
export const RECEIVE_MAXIMUM = 5000;

const read = (path: string | null): Buffer | null => (path === null ? null : readFileSync(path));

/** @throws Error where a file can't be read any more */
export function lineOptions(config: MqttConfig): IClientOptions {
  const isClean = config.clientId === null;
  const password = config.password ?? read(config.passwordFile)?.toString('utf8').trim() ?? null;
  const [ca, cert, key] = [read(config.caFile), read(config.certFile), read(config.keyFile)];
  return {
    protocolVersion: config.protocol,
    clientId: config.clientId ?? `kilter-${randomUUID().slice(0, 8)}`,
    clean: isClean,
    keepalive: KEEPALIVE_S,
    connectTimeout: CONNECT_TIMEOUT_MS,
    ...(config.username === null ? {} : { username: config.username }),
    ...(password === null ? {} : { password }),
    ...(ca === null ? {} : { ca }),
    ...(cert === null ? {} : { cert }),
    ...(key === null ? {} : { key }),
    ...(config.protocol === 4
      ? {}
      : {
          properties: { sessionExpiryInterval: isClean ? 0 : SESSION_EXPIRY_S, receiveMaximum: RECEIVE_MAXIMUM },
        }),
  };
}
