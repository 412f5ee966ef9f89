/**
 * Reading YAML so that every value knows where it stands: the documents of a text, what is wrong with
 * their syntax, and the place of each node. The readers of values stand in `yaml-readers.ts`.
 */
import {
  type Alias,
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  LineCounter,
  type Node,
  parseAllDocuments,
  visit,
  type YAMLParseError,
  type YAMLWarning,
} from 'yaml';
import { byPlace, mistakeAt, type Place, type SiteMistake } from './site-mistake.ts';

/** One document while it is being read; readers add to its lists. */
export interface Reading {
  readonly file: string;
  readonly document: Document;
  readonly lines: LineCounter;
  /** What each alias stands for; an alias without an anchor before it is not there. */
  readonly aliased: ReadonlyMap<Alias, Node>;
  /** Where the syntax first breaks, counted in characters: what stands behind it is guesswork. Infinity if nowhere. */
  readonly soundUntil: number;
  /** Where each value stands, by path: 'units[1].rated_power_w'. */
  readonly places: Map<string, Place>;
  readonly refusals: SiteMistake[];
  readonly warnings: SiteMistake[];
}

/** One value of a document. */
export interface At {
  readonly reading: Reading;
  /** Aliases are followed already; null for an empty value. */
  readonly node: Node | null;
  readonly offset: number;
  /** 'units[1].rated_power_w', the root is ''. */
  readonly path: string;
  /** What a message calls it: 'rated_power_w'. */
  readonly name: string;
}

/** Words for what the parser found; codes that are not here are said in the parser's own words. */
const SYNTAX: Readonly<Record<string, readonly [what: string, remedy: string]>> = {
  TAB_AS_INDENT: ['the line is indented with a tab', 'indent with spaces, two a level'],
  BAD_INDENT: [
    'the indentation does not fit the lines above',
    'line it up, two spaces a level, and close every [ and {',
  ],
  BLOCK_AS_IMPLICIT_KEY: [
    'there are two keys on one line, or an indentation that does not fit',
    'put each "key: value" on a line of its own, and a text that holds ": " in quotes',
  ],
  MULTILINE_IMPLICIT_KEY: ['a key runs over several lines', 'keep "key: value" on one line'],
  MISSING_CHAR: ['a quote, bracket, comma or colon is missing', 'add it'],
  UNEXPECTED_TOKEN: [
    'something stands here that YAML does not expect',
    'write "key: value", and texts with : # [ ] { } in quotes',
  ],
  TAG_RESOLVE_FAILED: ['the ! tag is not known', 'leave it out'],
};

function sayKey(text: string, offset: number): string {
  return /^["']?([^"':\s,}]{1,60})/.exec(text.slice(offset, offset + 70))?.[1] ?? 'a key';
}

function syntaxWords(error: YAMLParseError | YAMLWarning, text: string): readonly [string, string] {
  if (error.code === 'DUPLICATE_KEY') {
    const key = sayKey(text, error.pos[0]);
    return [`${key} stands here a second time`, 'keep one of the two'];
  }
  return (
    SYNTAX[error.code] ?? [
      `this cannot be read as YAML: ${error.message}`,
      'write "key: value", two spaces a level, lists with "- "',
    ]
  );
}

export function placeOf(reading: Pick<Reading, 'file' | 'lines'>, offset: number): Place {
  const { line, col } = reading.lines.linePos(offset);
  return { file: reading.file, line: Math.max(1, line), column: Math.max(1, col) };
}

/** One walk for all aliases: the library's own search begins at the top for each, 25 s for 3,000 of them. */
function aliasesOf(document: Document): ReadonlyMap<Alias, Node> {
  const anchored = new Map<string, Node>();
  const aliased = new Map<Alias, Node>();
  visit(document, {
    Value: (_, node) => {
      if (node.anchor !== undefined) anchored.set(node.anchor, node);
    },
    Alias: (_, alias) => {
      const node = anchored.get(alias.source);
      if (node !== undefined) aliased.set(alias, node);
    },
  });
  return aliased;
}

/** The library builds a pattern from each indentation, and one of tens of thousands of signs ends the process. */
const TOO_DEEP = /^[ \t?:-]{500}/m;

/** The place of an indentation that nobody writes, or null. To be asked before the text is parsed. */
export function tooDeep(text: string, file: string): SiteMistake | null {
  const found = TOO_DEEP.exec(text);
  if (found === null) return null;
  const place = { file, line: text.slice(0, found.index).split('\n').length, column: 1 };
  return mistakeAt(place, 'the line is indented by 500 signs or more', 'indent with two spaces a level');
}

/** Opens every document of a text that is not `tooDeep`; empty ones are left out. Syntax mistakes stand in the lists already. */
export function openDocuments(text: string, file: string): readonly Reading[] {
  const lines = new LineCounter();
  const documents = parseAllDocuments(text, { lineCounter: lines, prettyErrors: false });
  const readings: Reading[] = [];
  for (const document of documents) {
    // A doubled key leaves the rest of the document as readable as before.
    const breaks = document.errors.filter((error) => error.code !== 'DUPLICATE_KEY').map((error) => error.pos[0]);
    const soundUntil = Math.min(Number.POSITIVE_INFINITY, ...breaks);
    const aliased = aliasesOf(document);
    const reading: Reading = {
      file,
      document,
      lines,
      aliased,
      soundUntil,
      places: new Map(),
      refusals: [],
      warnings: [],
    };
    const say = (error: YAMLParseError | YAMLWarning): SiteMistake =>
      mistakeAt(placeOf(reading, error.pos[0]), ...syntaxWords(error, text));
    reading.refusals.push(...document.errors.map(say));
    reading.warnings.push(...document.warnings.map(say));
    const isEmpty = document.contents === null || (isScalar(document.contents) && document.contents.value === null);
    if (!isEmpty || document.errors.length > 0) readings.push(reading);
  }
  return readings;
}

/** A value under a path; an alias is followed, and refused where nothing bears its name. */
export function at(
  reading: Reading,
  found: unknown,
  where: { readonly path: string; readonly name: string; readonly offset: number },
): At {
  let node = (found ?? null) as Node | null; // The library types what hangs in a parsed tree as unknown.
  const offset = node?.range?.[0] ?? where.offset;
  reading.places.set(where.path, placeOf(reading, offset));
  const value = { reading, offset, path: where.path, name: where.name };
  if (isAlias(node)) {
    const source = node.source;
    node = reading.aliased.get(node) ?? null;
    if (node === null) refuse({ ...value, node }, `nothing before this is marked &${source}`, 'write the value out');
  }
  return { ...value, node };
}

export function rootOf(reading: Reading, name: string): At {
  const contents = reading.document.contents;
  return at(reading, contents, { path: '', name, offset: reading.document.range?.[0] ?? 0 });
}

/** Adds a refusal, unless the value stands behind broken syntax. Gives undefined, so that a reader can return it. */
export function refuse(value: At, what: string, remedy: string): undefined {
  if (value.offset < value.reading.soundUntil)
    value.reading.refusals.push(mistakeAt(placeOf(value.reading, value.offset), what, remedy));
}

/** Adds a refusal about something that is not there; where syntax is broken, it may well be there. */
export function refuseMissing(value: At, what: string, remedy: string): undefined {
  if (value.reading.soundUntil === Number.POSITIVE_INFINITY) refuse(value, what, remedy);
}

export function warn(value: At, what: string, remedy: string): void {
  if (value.reading.soundUntil === Number.POSITIVE_INFINITY) {
    value.reading.warnings.push(mistakeAt(placeOf(value.reading, value.offset), what, remedy));
  }
}

const SHOWN_LENGTH = 60;

/** A value in a message: "8 kW", 8000, a list, a map, empty. */
export function show(node: Node | null): string {
  if (isMap(node)) return 'a map';
  if (isSeq(node)) return 'a list';
  if (!isScalar(node) || node.value === null) return 'empty';
  const text = textOf(node) ?? '';
  const shown = text.length > SHOWN_LENGTH ? `${text.slice(0, SHOWN_LENGTH)}…` : text;
  return typeof node.value === 'string' ? JSON.stringify(shown) : shown;
}

/** A scalar's text as it was written, so that a serial 0123 keeps its zero and a date stays a date. */
export function textOf(node: Node | null): string | null {
  if (!isScalar(node) || node.value === null) return null;
  if (typeof node.value === 'string') return node.value;
  if (node.value instanceof Date) return node.source ?? node.value.toISOString();
  return node.source ?? String(node.value);
}

/** In order of place, each said once: a value behind an alias is read as often as it is used. */
export function sortMistakes(mistakes: readonly SiteMistake[]): SiteMistake[] {
  const once = new Map(mistakes.map((mistake) => [`${mistake.where}\n${mistake.what}`, mistake]));
  return [...once.values()].sort(byPlace);
}
