/** `{ kind: push, tokens: [{ name: valley-gateway, token_env: VALLEY_TOKEN, sites: [millpond] }] }` */
import { z } from 'zod';
import { ID_RULE, isSiteId } from '../../vocabulary/ids.ts';
import { type ConfigHouse, readEntry, type SourceReading, secretOf } from '../source-config.ts';

/** Who may push, and which sites: plain data, because it crosses processes; the token is held as its hash from there on. */
export interface PushToken {
  readonly name: string;
  readonly token: string;
  readonly sites: readonly string[];
}

export interface PushConfig {
  readonly kind: 'push';
  readonly name: 'push';
  /** null: none are configured, and whoever may use the board may push. */
  readonly tokens: readonly PushToken[] | null;
}

const TOKENS = 'give each gateway a token: { name: valley-gateway, token_env: VALLEY_TOKEN, sites: [millpond] }';
const SITES = 'list the ids of the sites that it may write, for example [millpond]';
const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const schema = z.strictObject(
  {
    kind: z.literal('push'),
    tokens: z
      .array(
        z.strictObject(
          {
            name: text('give the gateway a name'),
            token_env: text('name the environment variable that holds the token'),
            sites: z
              .array(
                z
                  .string({ error: `give the id of a site: ${ID_RULE}` })
                  .refine(isSiteId, { error: `give the id of a site: ${ID_RULE}` }),
                { error: SITES },
              )
              .min(1, { error: SITES }),
          },
          { error: TOKENS },
        ),
        { error: TOKENS },
      )
      .min(1, { error: TOKENS })
      .optional(),
  },
  { error: 'write { kind: push, tokens: [...] }' },
);

export function readPushConfig(value: unknown, { env }: ConfigHouse): SourceReading<PushConfig> {
  return readEntry(value, schema, ({ tokens }, fault) => {
    const read = tokens?.map(({ name, token_env, sites }, i) => ({
      name,
      token: secretOf(token_env, env, (what, remedy) => fault(['tokens', i, 'token_env'], what, remedy)),
      sites,
    }));
    for (const [i, { name, token }] of (read ?? []).entries()) {
      const before = read!.slice(0, i);
      if (before.some((one) => one.name === name))
        fault(['tokens', i, 'name'], `two tokens are named ${name}`, 'give each a name of its own');
      if (token !== '' && before.some((one) => one.token === token))
        fault(['tokens', i, 'token_env'], 'two gateways have the same token', 'give each a token of its own');
    }
    return { kind: 'push', name: 'push', tokens: read ?? null };
  });
}
