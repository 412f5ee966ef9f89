/**
 * Sparkplug B of one group: births, data and deaths of its nodes and devices as readings.
 *
 * What can't be read because a birth was missed is refused, counted and said; where the configuration says so, the node
 * is asked to be born again. No other command is ever sent to a node.
 *
 * A broker that holds messages for us sends them to the next process too, births and deaths among them, each once more
 * until it is acknowledged. So what births have said is kept, as far as they came in that way: the aliases of what
 * follows hold on.
 */
import type { SourceKey } from '../../vocabulary/reading.ts';
import { isFault, readSource } from '../line-meaning.ts';
import { OddCounts } from '../mqtt/mapped-value.ts';
import type { EntryPart, EntryReader, MessageSink, MqttMessage } from '../mqtt/message.ts';
import type { NamedSource, SparkplugEntry, SparkplugNode } from '../mqtt/topic-entry.ts';
import { quoteText } from '../quote-value.ts';
import { type KeptNodes, readKeptNodes } from './kept-node.ts';
import { MetricRules, takeMetrics } from './metric-rows.ts';
import { type Holder, NodeSession } from './node-session.ts';
import { decodePayload, type SparkplugPayload } from './payload.ts';

const NAMESPACE = 'spBv1.0';
const NODE_TYPES = ['NBIRTH', 'NDATA', 'NDEATH'] as const;
const DEVICE_TYPES = ['DBIRTH', 'DDATA', 'DDEATH'] as const;
type MessageType = (typeof NODE_TYPES)[number] | (typeof DEVICE_TYPES)[number];

/** A node of the map with what is remembered of it. */
interface KnownNode {
  readonly name: string;
  readonly node: SparkplugNode;
  readonly devices: ReadonlyMap<string, NamedSource>;
  readonly session: NodeSession;
  lastReadingAt: number | null;
  /** Births and deaths so far. */
  changes: number;
}

interface Heard {
  readonly type: MessageType;
  readonly known: KnownNode;
  /** Name of the device; null for the node itself. */
  readonly device: string | null;
}

export function createSparkplugReader(entry: SparkplugEntry): EntryReader {
  const nodes = new Map(
    Object.entries(entry.nodes).map(([name, node]): [string, KnownNode] => {
      const devices = new Map(Object.entries(node.devices));
      return [
        name,
        { name, node, devices, session: new NodeSession([...devices.keys()]), lastReadingAt: null, changes: 0 },
      ];
    }),
  );
  const rules = new MetricRules(entry.metrics);
  const odds = new OddCounts();
  const prefix = `${NAMESPACE}/${entry.group}/`;
  return {
    name: `${prefix}#`,
    filters: [`${prefix}+/+`, `${prefix}+/+/+`],
    read(message, sink) {
      if (!message.topic.startsWith(prefix)) return false;
      const heard = heardOf(message.topic.slice(prefix.length), nodes, entry.group, sink);
      if (heard === null) return true;
      const payload = decodePayload(message.payload);
      if (isFault(payload)) sink.refuse(payload);
      else handle(heard, payload, message, { rules, odds, sink, entry });
      return true;
    },
    kept: () => keptOf(nodes),
    keptChange: () => [...nodes.values()].reduce((sum, { changes }) => sum + changes, 0),
    recall(kept) {
      for (const [name, one] of Object.entries(readKeptNodes(kept) ?? {})) nodes.get(name)?.session.recall(one);
    },
    parts: () => [...nodes.values()].map(nodePart).concat(oddPart(`${prefix}#`, odds)),
  };
}

/** Whom a topic speaks of; null where nothing is to be read of it. */
function heardOf(rest: string, nodes: ReadonlyMap<string, KnownNode>, group: string, sink: MessageSink): Heard | null {
  const [typeText = '', nodeName = '', device = null] = rest.split('/');
  const types: readonly MessageType[] = device === null ? NODE_TYPES : DEVICE_TYPES;
  const type = types.find((each) => each === typeText);
  // Commands to nodes and devices go by on the same topics, and are none of our business.
  if (type === undefined) {
    if (typeText !== 'NCMD' && typeText !== 'DCMD')
      sink.refuse({ what: `${quoteText(typeText)} is no message of Sparkplug B`, remedy: 'check what publishes here' });
    return null;
  }
  const known = nodes.get(nodeName);
  if (known === undefined) {
    const what = `node ${quoteText(nodeName)} of group ${group} is in no map`;
    sink.refuse({ what, remedy: 'add it to nodes, with its site and devices' });
    return null;
  }
  return { type, known, device };
}

const keptOf = (nodes: ReadonlyMap<string, KnownNode>): KeptNodes | undefined => {
  const held = [...nodes.values()].filter(({ session }) => session.isHeldForUs);
  return held.length === 0 ? undefined : Object.fromEntries(held.map(({ name, session }) => [name, session.kept()]));
};

interface Tools {
  readonly entry: SparkplugEntry;
  readonly rules: MetricRules;
  readonly odds: OddCounts;
  readonly sink: MessageSink;
}

function handle({ type, known, device }: Heard, payload: SparkplugPayload, message: MqttMessage, tools: Tools): void {
  const { session } = known;
  const { odds, entry, sink } = tools;
  const isData = type === 'NDATA' || type === 'DDATA';
  if (!isData) known.changes += 1;
  // Of a node whose births are delivered once some may be missed while we are away.
  if (type === 'NBIRTH') session.isHeldForUs = message.canComeAgain && !message.isRetained;
  else if (!isData && !message.canComeAgain) session.isHeldForUs = false;
  const needsBirth = (): void => {
    if (entry.mayAskForBirth && !message.isRetained) sink.needsBirth?.({ group: entry.group, node: known.name });
  };
  const givenUp = session.seq.givenUp;
  // A retained message is out of the order of its node.
  const isInOrder = !message.isRetained && type !== 'NBIRTH' && type !== 'NDEATH';
  if (isInOrder && payload.seq !== null) session.seq.see(payload.seq % 256, message.isAgain);
  if (session.seq.givenUp > givenUp) needsBirth();
  if (type === 'NBIRTH') session.nodeBorn(payload);
  if (type === 'NDEATH') {
    if (!session.nodeDied(payload)) odds.count(`a death of ${known.name} was of no birth that was heard, and ignored`);
    return;
  }
  const holder = device === null ? session.node : session.devices.get(device);
  if (holder === undefined) {
    const what = `device ${quoteText(device ?? '')} of node ${known.name} is in no map`;
    tools.sink.refuse({ what, remedy: 'add it to the devices of its node' });
    return;
  }
  if (type === 'DDEATH') {
    holder.die();
    return;
  }
  if (type === 'DBIRTH') holder.born(payload);
  if (isData && message.isAgain === true && holder.isOlder(payload)) {
    // The birth behind it was kept only once everything before it was stored.
    odds.count('messages came again after a newer birth, and are stored already');
    return;
  }
  if (holder.life === 'dead') {
    needsBirth();
    const what = `${device ?? known.name} was said to be dead and has not been born again`;
    tools.sink.refuse({ what, remedy: 'nothing to do if its birth follows; else let the node be born again' });
    return;
  }
  takeFor(holder, known, device, { payload, needsBirth }, tools);
}

function takeFor(
  holder: Holder,
  known: KnownNode,
  device: string | null,
  { payload, needsBirth }: { readonly payload: SparkplugPayload; needsBirth(): void },
  { rules, odds, sink, entry }: Tools,
): void {
  const { node, devices, name } = known;
  const named = device === null ? node.own : devices.get(device);
  if (named === null || named === undefined) {
    if (payload.metrics.some((metric) => metric.name !== 'bdSeq' && metric.name?.startsWith('Node Control/') !== true))
      odds.count(`metrics of node ${name} itself are of no unit or pack`);
    return;
  }
  const source: SourceKey | { readonly what: string; readonly remedy: string } = readSource(
    node.site,
    named.kind,
    named.id,
  );
  if (isFault(source)) {
    sink.refuse(source);
    return;
  }
  const noting: MessageSink = {
    ...sink,
    take(meaning) {
      known.lastReadingAt = Math.max(known.lastReadingAt ?? meaning.t, meaning.t);
      sink.take(meaning);
    },
  };
  const birthRemedy = entry.mayAskForBirth
    ? 'the birth was not heard or was lost: the node is asked to be born again'
    : 'the birth was not heard or was lost: let the node be born again, or write rebirth: true so that Kilter asks for it';
  takeMetrics(payload, { source, holder, rules, odds, birthRemedy, needsBirth }, noting);
}

function nodePart({ name, session, devices, lastReadingAt }: KnownNode): EntryPart {
  const { life } = session.node;
  const dead = [...devices.keys()].filter((device) => session.devices.get(device)?.life === 'dead');
  const troubles: string[] = [];
  if (life === 'dead') troubles.push('the broker published its death');
  else if (dead.length > 0) troubles.push(`dead: ${dead.join(', ')}`);
  if (life === 'unheard') troubles.push('its birth was not heard yet, so metrics that come by alias are refused');
  const { lost } = session.seq;
  if (lost > 0) troubles.push(`${lost} messages were lost on the way`);
  return {
    name: `node ${name}`,
    isAnswering: life === 'born',
    lastReadingAt,
    trouble: troubles.length === 0 ? null : troubles.join('; '),
  };
}

function oddPart(name: string, odds: OddCounts): EntryPart[] {
  const trouble = odds.say();
  return trouble === null ? [] : [{ name, isAnswering: true, lastReadingAt: null, trouble }];
}
