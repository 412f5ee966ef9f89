/** `forward: { push: https://…/api/readings, token_env: … }` or `{ mqtt: {…} }`, and `queue: { path, max_mb }`. */
import { resolve } from 'node:path';
import { z } from 'zod';
import { type ConfigHouse, readEntry, type SourceReading, secretOf } from '../source-config.ts';
import { type MqttForward, readMqttForward } from './mqtt-forward-config.ts';

export interface PushForward {
  readonly kind: 'push';
  readonly url: string;
  /** null: the server asks for none. */
  readonly token: string | null;
}

export interface CourierConfig {
  /** Says who it is to the server, and stands in the topic of its clock. */
  readonly name: string;
  readonly forward: PushForward | MqttForward;
  readonly queue: { readonly path: string; readonly maxBytes: number };
}

const DEFAULT_QUEUE = { path: './queue', max_mb: 512 } as const;
/** Less does not hold the segments that are being worked on. */
const LEAST_MB = 8;
const MB = 1024 * 1024;

const FORWARD = 'write forward: { push: https://…/api/readings, token_env: … } or forward: { mqtt: { url: … } }';
const MAX_MB = `give the size of the queue in megabytes, ${LEAST_MB} or more`;
const NAME = 'give a name of letters, digits, hyphens, underscores and dots, 1 to 40 of them';
const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const schema = z.strictObject({
  forward: z.strictObject(
    {
      name: z
        .string({ error: NAME })
        .regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$/, { error: NAME })
        .optional(),
      push: text('give the address of the server, for example https://board.example/api/readings').optional(),
      token_env: text('name the environment variable that holds the token').optional(),
      mqtt: z.unknown().optional(),
    },
    { error: FORWARD },
  ),
  queue: z
    .strictObject(
      {
        path: text('give a folder for the queue').default(DEFAULT_QUEUE.path),
        max_mb: z.number({ error: MAX_MB }).min(LEAST_MB, { error: MAX_MB }).default(DEFAULT_QUEUE.max_mb),
      },
      { error: 'write queue: { path: ./queue, max_mb: 512 }' },
    )
    .default({ ...DEFAULT_QUEUE }),
});

/**
 * @param value    the keys `forward` and `queue` of the configuration
 * @param hostName of the machine: the courier's name where none is given
 */
export function readCourierConfig(value: unknown, house: ConfigHouse, hostName: string): SourceReading<CourierConfig> {
  return readEntry(value, schema, ({ forward, queue }, fault) => ({
    name:
      forward.name ??
      (hostName
        .replaceAll(/[^A-Za-z0-9._-]/g, '-')
        .replace(/^[^A-Za-z0-9]+/, '')
        .slice(0, 40) ||
        'courier'),
    forward: readForward(forward, house, fault),
    queue: { path: resolve(house.folder, queue.path), maxBytes: Math.round(queue.max_mb * MB) },
  }));
}

type Fault = (path: readonly PropertyKey[], what: string, remedy: string) => void;

function readForward(
  { push, token_env, mqtt }: { push?: string | undefined; token_env?: string | undefined; mqtt?: unknown },
  house: ConfigHouse,
  fault: Fault,
): CourierConfig['forward'] {
  if ((push === undefined) === (mqtt === undefined))
    fault(
      ['forward'],
      push === undefined ? 'it is not said where to send to' : 'both push and mqtt are given',
      FORWARD,
    );
  if (mqtt !== undefined) {
    const read = readMqttForward(mqtt, house);
    for (const { path, fault: one } of read.faults) fault(['forward', 'mqtt', ...path], one.what, one.remedy);
    if (token_env !== undefined)
      fault(
        ['forward', 'token_env'],
        'token_env says nothing beside mqtt',
        'take it out: a broker is told username and password_env',
      );
    if (read.config !== null) return read.config;
  }
  if (push !== undefined && (!URL.canParse(push) || !/^https?:$/.test(new URL(push).protocol)))
    fault(
      ['forward', 'push'],
      `push is "${push}"`,
      'give the address of the server, for example https://board.example/api/readings',
    );
  const token =
    token_env === undefined
      ? null
      : secretOf(token_env, house.env, (what, remedy) => fault(['forward', 'token_env'], what, remedy));
  return { kind: 'push', url: push ?? '', token };
}
