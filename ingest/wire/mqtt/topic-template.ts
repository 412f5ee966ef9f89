/** Topics with named levels: `plants/{site}/inverters/{unit}/state`. */

/** What a level of a topic may name. */
export const LEVEL_NAMES = ['site', 'unit', 'pack', 'meter'] as const;
export type LevelName = (typeof LEVEL_NAMES)[number];

export interface TopicTemplate {
  /** The filter to subscribe to; named levels are `+`. */
  readonly filter: string;
  readonly names: readonly LevelName[];
  /** What the levels of a topic name, or null where it is no topic of this template. */
  match(topic: string): Partial<Record<LevelName, string>> | null;
}

type Level =
  | { readonly is: 'text'; readonly text: string }
  | { readonly is: 'any' }
  | { readonly is: 'rest' }
  | { readonly is: 'named'; readonly name: LevelName; readonly before: string; readonly after: string };

const NAMED = /^([^{}]*)\{([a-z]+)\}([^{}]*)$/;
/** MQTT 5.0, 4.7.3: a topic is at most 65,535 bytes; a filter that long is a mistake. */
const LONGEST = 1024;

function levelOf(text: string, isLast: boolean): Level | string {
  if (text === '+') return { is: 'any' };
  if (text === '#') return isLast ? { is: 'rest' } : '# may only be the last level';
  if (/[+#]/.test(text)) return `"${text}" mixes a wildcard with text: + and # fill a whole level`;
  if (!/[{}]/.test(text)) return { is: 'text', text };
  const [, before = '', name, after = ''] = NAMED.exec(text) ?? [];
  const known = LEVEL_NAMES.find((each) => each === name);
  if (known === undefined) return `"${text}" names no level: use one of ${LEVEL_NAMES.map((n) => `{${n}}`).join(', ')}`;
  return { is: 'named', name: known, before, after };
}

function namedPart({ before, after }: Level & { is: 'named' }, text: string): string | null {
  const isLong = text.length > before.length + after.length;
  if (!isLong || !text.startsWith(before) || !text.endsWith(after)) return null;
  return text.slice(before.length, text.length - after.length);
}

/** @returns the template, or what is wrong with the text, in words */
export function topicTemplate(text: string): TopicTemplate | string {
  if (text === '' || text.length > LONGEST || text.includes('\0')) return 'it is no topic';
  const parts = text.split('/');
  const levels: Level[] = [];
  for (const [k, part] of parts.entries()) {
    const level = levelOf(part, k === parts.length - 1);
    if (typeof level === 'string') return level;
    levels.push(level);
  }
  const names = levels.flatMap((level) => (level.is === 'named' ? [level.name] : []));
  const twice = names.find((name, k) => names.indexOf(name) !== k);
  if (twice !== undefined) return `{${twice}} is named twice`;
  const filter = levels.map((level) => (level.is === 'text' ? level.text : level.is === 'rest' ? '#' : '+')).join('/');
  return { filter, names, match: (topic: string) => matchOf(levels, topic) };
}

function matchOf(levels: readonly Level[], topic: string): Partial<Record<LevelName, string>> | null {
  const parts = topic.split('/');
  const found: Partial<Record<LevelName, string>> = {};
  for (const [k, level] of levels.entries()) {
    // MQTT 5.0, 4.7.1.2: `#` takes its parent level too. 4.7.2: no wildcard in front takes topics that begin with $.
    if (level.is === 'rest') return k === 0 && topic.startsWith('$') ? null : found;
    const part = parts[k];
    if (part === undefined) return null;
    if (k === 0 && level.is !== 'text' && part.startsWith('$')) return null;
    if (level.is === 'text' && part !== level.text) return null;
    if (level.is === 'named') {
      const name = namedPart(level, part);
      if (name === null) return null;
      found[level.name] = name;
    }
  }
  return parts.length === levels.length || isParent(levels, parts.length) ? found : null;
}

const isParent = (levels: readonly Level[], count: number): boolean =>
  count === levels.length - 1 && levels.at(-1)?.is === 'rest';
