import { type Document, isMap, isScalar, isSeq, LineCounter, parseDocument } from 'yaml';
import type { z } from 'zod';
import type { Refusal } from '../vocabulary/refusal.ts';
import type { Fault } from './line-meaning.ts';
import { quoteText, quoteValue } from './quote-value.ts';

export type Path = readonly PropertyKey[];

/** A mistake of meaning, and the path to what is wrong. */
export interface PathFault {
  readonly path: Path;
  readonly fault: Fault;
}

/** One YAML document that remembers where each thing stands in its file. */
export interface PlacedYaml {
  readonly value: unknown;
  /** Mistakes of the YAML itself; where there are any, `value` is not to be used. */
  readonly mistakes: readonly Refusal[];
  /** Gives mistakes of meaning their places, in the order of the file; a missing key has that of what should hold it. */
  place(faults: readonly PathFault[]): readonly Refusal[];
}

/** Where the thing of that path begins: its key, or itself in a list. */
function offsetOf(document: Document, path: Path): number {
  for (let length = path.length; length > 0; length -= 1) {
    const parent = length === 1 ? document.contents : document.getIn(path.slice(0, length - 1), true);
    const key = path[length - 1];
    if (isMap(parent)) {
      const pair = parent.items.find((item) => isScalar(item.key) && String(item.key.value) === String(key));
      if (pair !== undefined && isScalar(pair.key)) return pair.key.range?.[0] ?? 0;
    }
    const item = isSeq(parent) ? parent.get(Number(key), true) : undefined;
    if (item !== undefined) return item.range?.[0] ?? 0;
  }
  return document.contents?.range?.[0] ?? 0;
}

/** @param file  name of the file, for messages */
export function parsePlacedYaml(text: string, file: string): PlacedYaml {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, logLevel: 'error' });
  const where = (offset: number): string => {
    const { line, col } = lines.linePos(offset);
    return `${file}, line ${line}, column ${col}`;
  };
  const mistakes = document.errors.map(({ message, pos }) => ({
    what: `the YAML cannot be read: ${message.split('\n')[0] ?? ''}`.replace(/ at line \d+, column \d+:?$/, ''),
    where: where(pos[0]),
    remedy: 'mend this place: indentation, quotes and brackets must pair',
  }));
  return {
    value: mistakes.length > 0 ? null : plainValueOf(document),
    mistakes,
    place(faults) {
      const placed = faults.map(({ path, fault }) => ({ offset: offsetOf(document, path), fault }));
      return placed
        .sort((a, b) => a.offset - b.offset)
        .map(({ offset, fault }) => ({ ...fault, where: where(offset) }));
    },
  };
}

function plainValueOf(document: { toJS(): unknown }): unknown {
  try {
    return document.toJS();
  } catch {
    // Aliases that multiply one another beyond the library's limit.
    return null;
  }
}

function valueAt(value: unknown, path: Path): unknown {
  let at = value;
  for (const key of path) at = typeof at === 'object' && at !== null ? Reflect.get(at, key) : undefined;
  return at;
}

/** The mistakes a schema found in `value`. The message of a schema is the remedy: what would be right. */
export function schemaFaults(value: unknown, issues: readonly z.core.$ZodIssue[]): PathFault[] {
  return issues.flatMap((issue): PathFault[] => {
    const name = issue.path.length === 0 ? 'the file' : issue.path.map(String).join('.');
    if (issue.code === 'unrecognized_keys') {
      const remedy = 'take it out, or correct its spelling';
      return issue.keys.map((key) => ({
        path: [...issue.path, key],
        fault: { what: `${quoteText(key)} is no key of ${name}`, remedy },
      }));
    }
    const found = valueAt(value, issue.path);
    const what = found === undefined ? `${name} is missing` : `${name} is ${quoteValue(found)}`;
    return [{ path: issue.path, fault: { what, remedy: issue.message } }];
  });
}
