/** The entries of `topics:` as they are written, and as plain data. */
import { z } from 'zod';
import { ID_RULE, isSiteId, isSourceId, RESERVED_IDS, SOURCE_ID_RULE } from '../../vocabulary/ids.ts';
import { COLUMNS, type Column, columnOf, SOURCE_KINDS, type SourceKind } from '../../vocabulary/quantities.ts';
import { isJsonPointer } from '../../wire/mqtt/json-pointer.ts';
import type { JsonEntry, MappedQuantity, NamedSource, TopicEntry } from '../../wire/mqtt/topic-entry.ts';
import { type LevelName, topicTemplate } from '../../wire/mqtt/topic-template.ts';
import type { Path } from '../../wire/yaml-mistakes.ts';

export type Report = (path: Path, what: string, remedy: string) => void;

const SITE = z.string({ error: `give an id: ${ID_RULE}` }).refine(isSiteId, { error: `give an id: ${ID_RULE}` });
const OWN_ID = z
  .string({ error: `give an id: ${SOURCE_ID_RULE}` })
  .refine(isSourceId, { error: `give an id: ${SOURCE_ID_RULE}` })
  .refine((id) => !RESERVED_IDS.includes(id), {
    error: `give another id: ${RESERVED_IDS.join(' and ')} are reserved`,
  });
const SOURCE_KEYS = {
  unit: OWN_ID.optional(),
  pack: OWN_ID.optional(),
  bank: z.literal('bank', { error: 'write bank: bank' }).optional(),
  meter: OWN_ID.optional(),
};
const RULE_KEYS = {
  factor: z
    .number({ error: 'give a number' })
    .refine((factor) => factor !== 0, { error: 'give a number other than 0' })
    .default(1),
  states: z
    .record(z.string(), z.string({ error: 'give a word of the quantity' }), {
      error: 'give a word for each foreign state: { "ON GRID": grid }',
    })
    .optional(),
};
const DEVICE = z.strictObject(SOURCE_KEYS, { error: 'give { unit: u1 } or { pack: p1 }' });
/** Sparkplug 3.0, 4.1.1: an id in a topic may hold anything but the signs of MQTT filters. */
const SPARKPLUG_ID = 'give the id as it stands in the topic, without / + and #';
const sparkplugId = z.string({ error: SPARKPLUG_ID }).regex(/^[^/+#]+$/, { error: SPARKPLUG_ID });

const KILTER = z.strictObject({ reads: z.literal('kilter') }, { error: 'write { reads: kilter }' });
const SPARKPLUG = z.strictObject({
  reads: z.literal('sparkplug'),
  group: sparkplugId,
  nodes: z.record(
    sparkplugId,
    z.strictObject(
      {
        site: SITE,
        devices: z.record(sparkplugId, DEVICE, { error: 'give devices: { NAME: { unit: u1 } }' }).default({}),
        ...SOURCE_KEYS,
      },
      { error: 'give { site: ID, devices: { NAME: { unit: u1 } } }' },
    ),
    { error: 'give nodes: { NAME: { site: ID, devices: { NAME: { unit: u1 } } } }' },
  ),
  metrics: z
    .record(
      z.string(),
      z.strictObject(
        { quantity: z.string({ error: 'name a quantity, for example output_power_w' }), ...RULE_KEYS },
        { error: 'give { quantity: output_power_w }' },
      ),
      { error: 'give a quantity for each metric: { "Output/Power": { quantity: output_power_w } }' },
    )
    .default({}),
  rebirth: z
    .boolean({ error: 'write rebirth: true to let Kilter ask a node to be born again, or leave it out' })
    .default(false),
});
const POINTER_REMEDY = 'give a JSON pointer such as /out/kw; ~1 stands for a slash, ~0 for a tilde';
const POINTER = z.string({ error: POINTER_REMEDY }).refine(isJsonPointer, { error: POINTER_REMEDY });
const JSON_TOPIC = z.strictObject({
  reads: z.literal('json'),
  topic: z.string({ error: 'give the topic, for example "plants/{site}/inverters/{unit}/state"' }),
  site: SITE.optional(),
  ...SOURCE_KEYS,
  time: z
    .strictObject(
      {
        pointer: POINTER,
        format: z.enum(['epoch_s', 'epoch_ms', 'rfc3339'], { error: 'give epoch_s, epoch_ms or rfc3339' }),
      },
      { error: 'give { pointer: /ts, format: epoch_s }' },
    )
    .optional(),
  values: z.record(
    z.string(),
    z.strictObject({ pointer: POINTER, ...RULE_KEYS }, { error: 'give { pointer: /out/kw }' }),
    { error: 'give a pointer for each quantity: { output_power_w: { pointer: /out/w } }' },
  ),
});

export const topicsSchema = z
  .array(
    z.discriminatedUnion('reads', [KILTER, SPARKPLUG, JSON_TOPIC], {
      error: 'write reads: kilter, reads: sparkplug or reads: json',
    }),
    { error: 'give a list of topics, for example [{ reads: kilter }]' },
  )
  .min(1, { error: 'name one topic at least, for example { reads: kilter }' });

type WrittenTopic = z.infer<typeof topicsSchema>[number];
type WrittenJson = z.infer<typeof JSON_TOPIC>;
type WrittenSparkplug = z.infer<typeof SPARKPLUG>;
type WrittenSource = { readonly [Kind in SourceKind]?: string | undefined };
type WrittenRule = { readonly factor: number; readonly states?: Readonly<Record<string, string>> | undefined };

/** What no single key can tell is reported; what comes back is used only where nothing was. */
export function resolveTopics(topics: readonly WrittenTopic[], report: Report): readonly TopicEntry[] {
  return topics.map((topic, k) => resolveTopic(topic, (path, what, remedy) => report([k, ...path], what, remedy)));
}

function resolveTopic(topic: WrittenTopic, report: Report): TopicEntry {
  switch (topic.reads) {
    case 'kilter':
      return { reads: 'kilter' };
    case 'sparkplug':
      return sparkplugEntry(topic, report);
    case 'json':
      return jsonEntry(topic, report);
  }
}

function namedSource(written: WrittenSource, path: Path, report: Report): NamedSource | null {
  const [kind, second] = SOURCE_KINDS.filter((each) => written[each] !== undefined);
  if (kind === undefined) return null;
  if (second !== undefined) report([...path, second], `both ${kind} and ${second} are named`, 'name one');
  return { kind, id: written[kind] ?? '' };
}

function sparkplugEntry({ group, nodes, metrics, rebirth }: WrittenSparkplug, report: Report): TopicEntry {
  const made = Object.entries(nodes).map(([name, { site, devices, ...own }]) => {
    const sources = Object.entries(devices).map(([device, written]): [string, NamedSource] => {
      const path = ['nodes', name, 'devices', device];
      const source = namedSource(written, path, report);
      if (source === null) report(path, 'no source is named', 'add unit, pack, bank or meter');
      return [device, source ?? { kind: 'unit', id: '' }];
    });
    if (sources.length === 0 && SOURCE_KINDS.every((kind) => own[kind] === undefined))
      report(['nodes', name], `node ${name} names no device`, 'give devices: { NAME: { unit: u1 } }');
    return [
      name,
      { site, own: namedSource(own, ['nodes', name], report), devices: Object.fromEntries(sources) },
    ] as const;
  });
  const rules = Object.entries(metrics).map(([name, { quantity, ...rule }]): [string, MappedQuantity] => [
    name,
    mappedQuantity(quantity, rule, { path: ['metrics', name, 'quantity'], kind: null }, report),
  ]);
  return {
    reads: 'sparkplug',
    group,
    nodes: Object.fromEntries(made),
    metrics: Object.fromEntries(rules),
    mayAskForBirth: rebirth,
  };
}

function jsonEntry(written: WrittenJson, report: Report): JsonEntry {
  const { topic, time, values } = written;
  const template = topicTemplate(topic);
  if (typeof template === 'string') {
    report(
      ['topic'],
      `the topic is "${topic}": ${template}`,
      'write levels with names: "plants/{site}/inverters/{unit}/state"',
    );
  }
  const levels = typeof template === 'string' ? null : template.names;
  const source = namedSource(written, [], report);
  const levelKinds = (levels ?? []).filter((name): name is Exclude<LevelName, 'site'> => name !== 'site');
  if (levels !== null) checkNames(written, { levels, levelKinds, source }, report);
  const kind = source?.kind ?? levelKinds[0] ?? null;
  return {
    reads: 'json',
    topic,
    site: written.site ?? null,
    source,
    time: time ?? null,
    values: Object.entries(values).map(([quantity, { pointer, ...rule }]) => ({
      ...mappedQuantity(quantity, rule, { path: ['values', quantity], kind }, report),
      pointer,
    })),
  };
}

function checkNames(
  { site }: WrittenJson,
  named: {
    readonly levels: readonly LevelName[];
    readonly levelKinds: readonly SourceKind[];
    readonly source: NamedSource | null;
  },
  report: Report,
): void {
  const inTopic = named.levels.includes('site');
  if (!inTopic && site === undefined) report(['topic'], 'no site is named', 'name a level {site}, or add site: ID');
  if (inTopic && site !== undefined) report(['site'], 'the site is named twice', 'take out site, or the level {site}');
  const kinds = [...named.levelKinds, ...(named.source === null ? [] : [named.source.kind])];
  if (kinds.length === 0) {
    report(
      ['topic'],
      'no source is named',
      'name a level {unit}, {pack} or {meter}, or add unit: ID, pack: ID, meter: ID or bank: bank',
    );
  }
  if (kinds.length > 1) report(['topic'], `both ${kinds[0]} and ${kinds[1]} are named`, 'name one source an entry');
}

const namesOf = (kind: SourceKind): string[] => COLUMNS[kind].map(({ id }) => id);

function mappedQuantity(
  quantity: string,
  { factor, states }: WrittenRule,
  { path, kind }: { readonly path: Path; readonly kind: SourceKind | null },
  report: Report,
): MappedQuantity {
  const kinds = kind === null ? SOURCE_KINDS : [kind];
  const column = kinds.map((each) => columnOf(each, quantity)).find((found) => found !== undefined);
  if (column === undefined) {
    const of = kind === null ? '' : ` of a ${kind}`;
    report(path, `${quantity} is no quantity${of}`, `use one of ${kinds.flatMap(namesOf).join(', ')}`);
  } else checkRule(column, { factor, states }, path, report);
  return { quantity, factor, states: states ?? null };
}

function checkRule({ id, words }: Column, { factor, states }: WrittenRule, path: Path, report: Report): void {
  if (words === null && states !== undefined)
    report(
      path,
      `${id} is a number, and states are given for it`,
      'take states out: only mode and pack_state have words',
    );
  if (words !== null && factor !== 1) report(path, `${id} has words, and a factor is given for it`, 'take factor out');
  for (const [text, word] of Object.entries(words === null ? {} : (states ?? {}))) {
    if (!words?.includes(word))
      report(
        path,
        `states gives "${word}" for "${text}", and ${id} knows no such word`,
        `use one of ${words?.join(', ')}`,
      );
  }
}
