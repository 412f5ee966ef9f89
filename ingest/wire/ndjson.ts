import type { ReadingBatch } from '../vocabulary/reading.ts';
import { BatchBuilder } from './batch-builder.ts';
import { type Fault, type Fields, isFault, type LineMeaning, readLine } from './line-meaning.ts';
import { NdjsonFast } from './ndjson-fast.ts';
import { quoteText, quoteValue } from './quote-value.ts';
import { isBlank, lineText, markLength } from './text-bytes.ts';

export interface NdjsonDecoder {
  /**
   * @param bytes      whole lines; the last one may lack its newline
   * @param firstLine  number of the first of them in the file, from 1
   */
  decode(bytes: Uint8Array, firstLine: number): ReadingBatch;
}

function isObject(value: unknown): value is Fields {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** One line of NDJSON by way of `JSON.parse`: the meaning of any line, plain or not. */
export function readJsonLine(line: Uint8Array): LineMeaning | Fault {
  const text = lineText(line);
  if (typeof text !== 'string') return text;
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    const trimmed = text.trim();
    const remedy =
      trimmed.startsWith('{') && !trimmed.endsWith('}')
        ? 'the line is cut off: send it again whole'
        : 'write one JSON object a line';
    return { what: `${quoteText(trimmed)} is no JSON`, remedy };
  }
  if (!isObject(value))
    return {
      what: `the line is ${quoteValue(value)}`,
      remedy: 'write one JSON object a line, with "t", "site" and a source',
    };
  return readLine(value);
}

/** Decodes NDJSON logs. It remembers keys, sources and the day from call to call, for speed alone. */
export function createNdjsonDecoder(): NdjsonDecoder {
  const builder = new BatchBuilder();
  const fast = new NdjsonFast(builder);

  function takeSlowly(bytes: Uint8Array, from: number, line: number): number {
    const newline = bytes.indexOf(10, from);
    const to = newline === -1 ? bytes.length : newline;
    if (!isBlank(bytes, from, to)) {
      const meaning = readJsonLine(bytes.subarray(from, to));
      if (isFault(meaning)) {
        builder.refuse(line, meaning);
      } else {
        builder.countLine();
        builder.take(meaning);
      }
    }
    return to + 1;
  }

  return {
    decode(bytes, firstLine) {
      // A line without a newline goes the slow way, so that the fast one never looks beyond the end.
      const ended = bytes.lastIndexOf(10) + 1;
      fast.startBatch(bytes);
      let at = firstLine === 1 ? markLength(bytes) : 0;
      for (let line = firstLine; at < bytes.length; line += 1) {
        const next = at < ended ? fast.take(bytes, at) : -1;
        at = next === -1 ? takeSlowly(bytes, at, line) : next;
      }
      return builder.finish();
    },
  };
}
