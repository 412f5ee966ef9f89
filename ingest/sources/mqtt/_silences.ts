/** Last wills: what is silent because the broker said so, at once and not after six intervals. */
import type { SourceKey } from '../../vocabulary/reading.ts';
import type { DevicePart } from '../../vocabulary/source-status.ts';
import { formatTime } from '../../vocabulary/time.ts';
import { type TopicTemplate, topicTemplate } from '../../wire/mqtt/topic-template.ts';
import { WILL_KINDS, type WillRule } from './mqtt-config.ts';

/**
 * A gateway publishes on its will's topic when it comes back, too: these words, or JSON that holds one of them as a
 * value, say that it is there. Anything else on the topic says that it is gone.
 */
const THERE: ReadonlySet<string> = new Set(['online', 'up', 'alive', 'connected', 'true', '1', 'on', 'running']);
/** Topics of wills come from a map, so there are few; with named levels a broken gateway could make many. */
const MOST_SUBJECTS = 10_000;

interface Silence {
  readonly topic: string;
  readonly subject: string;
  /** When the will arrived; null: it is there. */
  since: number | null;
}

export interface Silences {
  /** What to subscribe to. */
  readonly filters: readonly string[];
  isWill(topic: string): boolean;
  hear(topic: string, payload: Uint8Array, atMs: number): void;
  /** A reading of that source: what was measured after the will ends the silence. */
  heard(source: SourceKey, t: number): void;
  parts(): readonly DevicePart[];
}

interface Rule {
  readonly silent: string;
  readonly template: TopicTemplate;
}

/** @throws RangeError where a topic is not one that the schema let through */
export function createSilences(wills: readonly WillRule[]): Silences {
  const rules = wills.map(({ topic, silent }): Rule => {
    const template = topicTemplate(topic);
    if (typeof template === 'string') throw new RangeError(`Cannot listen to the will ${topic}: ${template}`);
    return { silent, template };
  });
  const silences = new Map<string, Silence>();
  const bySubject = new Map<string, readonly Silence[]>();
  return {
    filters: rules.map(({ template }) => template.filter),
    isWill: (topic) => rules.some(({ template }) => template.match(topic) !== null),
    hear(topic, payload, atMs) {
      for (const rule of rules) {
        const levels = rule.template.match(topic);
        if (levels === null) continue;
        const subject = subjectOf(rule.silent, levels);
        const key = `${topic}\n${subject}`;
        const known = silences.get(key) ?? { topic, subject, since: null };
        if (!silences.has(key) && silences.size < MOST_SUBJECTS) {
          silences.set(key, known);
          bySubject.set(subject, [...(bySubject.get(subject) ?? []), known]);
        }
        known.since = saysThere(payload) ? null : (known.since ?? atMs);
      }
    },
    heard({ site, kind, id }, t) {
      if (silences.size === 0) return;
      for (const subject of [site, id, `${site}, ${kind} ${id}`]) {
        for (const silence of bySubject.get(subject) ?? []) {
          if (silence.since !== null && t > silence.since) silence.since = null;
        }
      }
    },
    parts: () =>
      [...silences.values()].map(({ topic, subject, since }) => ({
        name: `last will on ${topic}`,
        isAnswering: since === null,
        lastReadingAt: null,
        trouble: since === null ? null : `the broker has published it at ${formatTime(since)}: ${subject} is silent`,
      })),
  };
}

function subjectOf(silent: string, levels: Readonly<Record<string, string | undefined>>): string {
  if (!WILL_KINDS.some((kind) => kind === silent)) return silent;
  const id = levels[silent] ?? silent;
  return silent === 'site' || levels.site === undefined ? id : `${levels.site}, ${silent} ${id}`;
}

function saysThere(payload: Uint8Array): boolean {
  // An empty payload deletes what was retained: nobody says any more that it is gone.
  if (payload.length === 0) return true;
  if (payload.length > 1024) return false;
  const text = new TextDecoder().decode(payload).trim().toLowerCase();
  if (THERE.has(text)) return true;
  try {
    const value: unknown = JSON.parse(text);
    if (typeof value === 'string') return THERE.has(value);
    if (typeof value !== 'object' || value === null) return false;
    // {"online":true} says it by its key, {"state":"online"} by its value; a time beside it says nothing.
    return Object.entries(value).some(
      ([key, one]) => (one === true && THERE.has(key)) || (typeof one === 'string' && THERE.has(one)),
    );
  } catch {
    return false;
  }
}
