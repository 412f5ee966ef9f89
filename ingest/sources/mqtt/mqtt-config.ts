/** `kind: mqtt` of a configuration: which broker, who we are to it, what is listened to. */
import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { z } from 'zod';
import { SOURCE_KINDS, type SourceKind } from '../../vocabulary/quantities.ts';
import type { TopicEntry } from '../../wire/mqtt/topic-entry.ts';
import { topicTemplate } from '../../wire/mqtt/topic-template.ts';
import { type ConfigHouse, readEntry, type SourceReading, secretOf } from '../source-config.ts';
import { resolveTopics, topicsSchema } from './topics-schema.ts';

/** A last will that a gateway leaves with the broker, and what is silent once it is published. */
export interface WillRule {
  /** May name levels, as the topics of JSON maps. */
  readonly topic: string;
  /** A kind that the topic names in a level, or the id of a site, unit or pack. */
  readonly silent: string;
}

/** Plain data; the password is the only secret in it. */
export interface MqttConfig {
  readonly kind: 'mqtt';
  /** As in the status; holds no secret. */
  readonly name: string;
  readonly url: string;
  readonly protocol: 4 | 5;
  /** Null: a clean session under a name made up for each connection; what comes meanwhile is not kept for us. */
  readonly clientId: string | null;
  readonly username: string | null;
  readonly password: string | null;
  /** Read at each connection, so that a password or certificate that was renewed is used. */
  readonly passwordFile: string | null;
  readonly caFile: string | null;
  readonly certFile: string | null;
  readonly keyFile: string | null;
  readonly wills: readonly WillRule[];
  readonly topics: readonly TopicEntry[];
}

const URL_REMEDY = 'give mqtts://host:8883, or mqtt://host:1883 in a network of your own';
const text = (remedy: string) => z.string({ error: remedy }).min(1, { error: remedy });
const WILL_REMEDY = 'give { topic: "gateways/gw-7/state", silent: millpond }';
const WILL = z.strictObject(
  { topic: text('give the topic of the will'), silent: text('name the site, unit or pack that is silent then') },
  { error: WILL_REMEDY },
);
const schema = z.strictObject(
  {
    kind: z.literal('mqtt'),
    url: text(URL_REMEDY),
    protocol: z.union([z.literal(4), z.literal(5)], { error: 'give 5 for MQTT 5, or 4 for MQTT 3.1.1' }).default(5),
    client_id: text('give a name that no other client of this broker has, for example kilter-valley')
      .max(64, { error: 'give at most 64 characters' })
      .optional(),
    username: text('give the user name').optional(),
    password_env: text('name the environment variable that holds the password').optional(),
    password_file: text('name the file that holds the password').optional(),
    ca_file: text('name the file of the CA certificate, in PEM').optional(),
    cert_file: text('name the file of the client certificate, in PEM').optional(),
    key_file: text('name the file of the key of the client certificate, in PEM').optional(),
    will: z.union([WILL, z.array(WILL)], { error: WILL_REMEDY }).optional(),
    topics: topicsSchema,
  },
  { error: 'write the keys kind, url, client_id and topics' },
);
type Written = z.infer<typeof schema>;
type Fault = (path: readonly PropertyKey[], what: string, remedy: string) => void;

/** @returns the configuration of one entry, or every mistake in it, with paths from the entry on */
export function readMqttConfig(value: unknown, { folder, env }: ConfigHouse): SourceReading<MqttConfig> {
  return readEntry(value, schema, (written, fault) => {
    const url = checkUrl(written.url, fault);
    checkLogin(written, fault);
    checkFiles(written, url, folder, fault);
    const fileOf = (path: string | undefined): string | null => (path === undefined ? null : resolve(folder, path));
    const wills = written.will === undefined ? [] : [written.will].flat();
    for (const [k, will] of wills.entries())
      checkWill(will, Array.isArray(written.will) ? ['will', k] : ['will'], fault);
    const { password_env } = written;
    const at = url?.host ?? written.url;
    return {
      kind: 'mqtt',
      name: `mqtt ${at}${written.client_id === undefined ? '' : ` as ${written.client_id}`}`,
      url: written.url,
      protocol: written.protocol,
      clientId: written.client_id ?? null,
      username: written.username ?? null,
      password:
        password_env === undefined
          ? null
          : secretOf(password_env, env, (what) =>
              fault(['password_env'], what, 'set it to the password of this user at the broker'),
            ),
      passwordFile: fileOf(written.password_file),
      caFile: fileOf(written.ca_file),
      certFile: fileOf(written.cert_file),
      keyFile: fileOf(written.key_file),
      wills,
      topics: resolveTopics(written.topics, (path, what, remedy) => fault(['topics', ...path], what, remedy)),
    };
  });
}

function checkUrl(written: string, fault: Fault): URL | null {
  const url = URL.canParse(written) ? new URL(written) : null;
  if (url === null || !['mqtt:', 'mqtts:'].includes(url.protocol) || url.hostname === '') {
    fault(['url'], `url is "${withoutLogin(written)}"`, URL_REMEDY);
    return null;
  }
  if (url.username !== '' || url.password !== '')
    fault(['url'], 'the url holds a user or a password', 'give username: and password_env: instead');
  return url;
}

/** A message is no place for a password. */
const withoutLogin = (url: string): string => url.replace(/\/\/[^/@]*@/, '//…@');

function checkLogin({ username, password_env, password_file }: Written, fault: Fault): void {
  if (password_env !== undefined && password_file !== undefined)
    fault(['password_file'], 'both password_env and password_file are given', 'give one');
  const key = password_env === undefined ? 'password_file' : 'password_env';
  if (username === undefined && (password_env ?? password_file) !== undefined)
    fault([key], 'a password is given without a user', 'add username');
}

const FILE_KEYS = ['ca_file', 'cert_file', 'key_file', 'password_file'] as const;

function checkFiles(written: Written, url: URL | null, folder: string, fault: Fault): void {
  if ((written.cert_file === undefined) !== (written.key_file === undefined)) {
    const [has, lacks] = written.cert_file === undefined ? ['key_file', 'cert_file'] : ['cert_file', 'key_file'];
    fault(
      [has as string],
      `${has} is given without ${lacks}`,
      `add ${lacks}: a client certificate and its key go together`,
    );
  }
  for (const key of FILE_KEYS) {
    const path = written[key];
    if (path === undefined) continue;
    if (key !== 'password_file' && url?.protocol === 'mqtt:')
      fault([key], `${key} is given, but the url has no TLS`, 'write mqtts:// in the url');
    const trouble = unreadable(resolve(folder, path), key !== 'password_file');
    if (trouble !== null) fault([key], trouble, 'name a file that can be read');
  }
}

function unreadable(path: string, isPem: boolean): string | null {
  try {
    const held = readFileSync(path, 'utf8');
    return isPem && !held.includes('-----BEGIN ') ? `${path} holds no PEM text` : null;
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
}

/** Words that stand for a level of the topic, rather than for an id. */
export const WILL_KINDS: readonly (SourceKind | 'site')[] = ['site', ...SOURCE_KINDS];

function checkWill({ topic, silent }: WillRule, path: readonly PropertyKey[], fault: Fault): void {
  const template = topicTemplate(topic);
  if (typeof template === 'string') {
    fault([...path, 'topic'], `the topic is "${topic}": ${template}`, WILL_REMEDY);
    return;
  }
  const kind = WILL_KINDS.find((each) => each === silent);
  if (kind !== undefined && !template.names.some((name) => name === kind)) {
    const remedy = `name the ${kind}'s id, or write a level {${kind}} into the topic of the will`;
    fault([...path, 'silent'], `silent is "${silent}", and the topic names no {${kind}}`, remedy);
  }
}
