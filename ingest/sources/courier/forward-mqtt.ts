/** Sends by Kilter's native topics, and says how its clock fares. A broker tells no time: see `clockWord`. */

import { SOURCE_KINDS } from '../../vocabulary/quantities.ts';
import { MINUTE_MS, SECOND_MS } from '../../vocabulary/time.ts';
import type { MqttPublisher, Publication } from '../mqtt/mqtt-publisher.ts';
import type { ClockWatch } from './clock-watch.ts';
import type { Forwarder } from './forwarder.ts';

export interface MqttForwardHouse {
  readonly publisher: MqttPublisher;
  /** For people: which broker. */
  readonly broker: string;
  readonly clock: ClockWatch;
  readonly courier: string;
  nowMs(): number;
}

const ANSWER_WITHIN_MS = 20 * SECOND_MS;
const CLOCK_EVERY_MS = MINUTE_MS;
/** Under the packet size that small brokers are set to. */
const PAYLOAD_CHARACTERS = 60_000;

export function forwardByMqtt({ publisher, broker, clock, courier, nowMs }: MqttForwardHouse): Forwarder {
  const sites = new Set<string>();
  let toldAtMs = Number.NEGATIVE_INFINITY;
  let toldSteps = 0;
  let toldSites = 0;
  return {
    name: broker,
    start: () => undefined,
    stop: () => publisher.end(),
    async send(lines, signal) {
      const publications = publicationsOf(lines, sites);
      const { steps } = clock.state();
      const isDue = Math.abs(nowMs() - toldAtMs) >= CLOCK_EVERY_MS || steps !== toldSteps || sites.size !== toldSites;
      const words = isDue ? [...sites].map((site) => clockWord(site, courier, nowMs(), clock)) : [];
      const trouble = await publisher.publish([...publications, ...words], ANSWER_WITHIN_MS, signal);
      if (trouble !== null) return { kind: 'later', trouble, atLeastMs: 0 };
      if (isDue) [toldAtMs, toldSteps, toldSites] = [nowMs(), steps, sites.size];
      return { kind: 'taken', refusedCount: 0, refused: [] };
    },
  };
}

/**
 * What can be known without a clock on the other side: the sum of the steps since the courier began. Its `t` is when
 * it was said, so that who hears it at once can measure the rest.
 */
function clockWord(site: string, courier: string, t: number, clock: ClockWatch): Publication {
  const { offsetMs, steppedMs } = clock.state();
  return {
    topic: `kilter/v1/${site}/courier/${courier}`,
    payload: JSON.stringify({
      t,
      offset_ms: offsetMs ?? steppedMs,
      ...(offsetMs === null ? { measured: false } : {}),
    }),
  };
}

/** One message a source, its lines as a list without what the topic says; long lists in several. */
export function publicationsOf(lines: readonly string[], sites: Set<string>): readonly Publication[] {
  const byTopic = new Map<string, string[]>();
  for (const line of lines) {
    // Written by `encodeLines`: a line is an object that names its site and one source.
    const fields = JSON.parse(line) as Readonly<Record<string, unknown>>;
    const kind = SOURCE_KINDS.find((one) => fields[one] !== undefined);
    if (kind === undefined) continue;
    const { site, [kind]: id, ...rest } = fields;
    sites.add(String(site));
    const topic = `kilter/v1/${String(site)}/${kind}/${String(id)}`;
    const own = byTopic.get(topic) ?? [];
    if (own.length === 0) byTopic.set(topic, own);
    own.push(JSON.stringify(rest));
  }
  return [...byTopic].flatMap(([topic, elements]) => inPieces(elements).map((payload) => ({ topic, payload })));
}

function inPieces(elements: readonly string[]): string[] {
  const pieces: string[] = [];
  let piece: string[] = [];
  let length = 0;
  for (const element of elements) {
    if (length + element.length > PAYLOAD_CHARACTERS && piece.length > 0) {
      pieces.push(`[${piece.join(',')}]`);
      piece = [];
      length = 0;
    }
    piece.push(element);
    length += element.length + 1;
  }
  return [...pieces, piece.length === 1 ? piece[0]! : `[${piece.join(',')}]`];
}
