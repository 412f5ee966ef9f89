/** A pushed body → batches of readings; lines of sites that the pusher may not write are refused one by one. */
import type { ReadingBatch, RefusedLine } from '../../vocabulary/reading.ts';
import { BatchBuilder } from '../../wire/batch-builder.ts';
import { type Fault, isFault } from '../../wire/line-meaning.ts';
import { createNdjsonDecoder, readJsonLine } from '../../wire/ndjson.ts';
import type { Pusher } from './push-tokens.ts';

/** Decoded and stored at once: short enough that others are answered in between. */
const SLICE_BYTES = 512 * 1024;
const NEWLINE = 10;

/** Batches in the order of their lines. */
export function* decodePush(bytes: Uint8Array, pusher: Pusher): Generator<ReadingBatch> {
  const decoder = createNdjsonDecoder();
  let line = 1;
  for (let at = 0; at < bytes.length; ) {
    const newline = bytes.indexOf(NEWLINE, Math.min(at + SLICE_BYTES, bytes.length));
    const to = newline === -1 ? bytes.length : newline + 1;
    const slice = bytes.subarray(at, to);
    const batch = decoder.decode(slice, line);
    yield isAllowed(batch, pusher) ? batch : decodeAllowed(slice, line, pusher);
    for (const byte of slice) if (byte === NEWLINE) line++;
    at = to;
  }
}

const isAllowed = ({ sources }: ReadingBatch, { sites }: Pusher): boolean =>
  sites === null || sources.every(({ site }) => sites.has(site));

/** Line by line, which is slower: most bodies hold nothing that is not allowed. */
function decodeAllowed(slice: Uint8Array, firstLine: number, pusher: Pusher): ReadingBatch {
  const builder = new BatchBuilder();
  let line = firstLine;
  for (let at = 0; at < slice.length; line++) {
    const newline = slice.indexOf(NEWLINE, at);
    const to = newline === -1 ? slice.length : newline;
    const bytes = slice.subarray(at, to);
    at = to + 1;
    if (bytes.every((byte) => byte === 32 || byte === 9 || byte === 13)) continue;
    const meaning = readJsonLine(bytes);
    const fault = isFault(meaning) ? meaning : notAllowed(meaning.source.site, pusher);
    if (fault !== null) builder.refuse(line, fault);
    else if (!isFault(meaning)) {
      builder.countLine();
      builder.take(meaning);
    }
  }
  return builder.finish();
}

function notAllowed(site: string, { name, sites }: Pusher): Fault | null {
  if (sites === null || sites.has(site)) return null;
  return {
    what: `the token of ${name} may not write the site ${site}`,
    remedy: `send lines of ${[...sites].join(', ')}, or add the site to the token in the configuration`,
  };
}

/** Counts and the first refusals of a body, over its batches. */
export class PushTally {
  stored = 0;
  alreadyThere = 0;
  refusedCount = 0;
  readonly refused: RefusedLine[] = [];
  readonly #named: number;

  constructor(named: number) {
    this.#named = named;
  }

  add(batch: ReadingBatch, counts: { readonly stored: number; readonly alreadyThere: number }): void {
    this.stored += counts.stored;
    this.alreadyThere += counts.alreadyThere;
    this.refusedCount += batch.refused.length;
    this.refused.push(...batch.refused.slice(0, this.#named - this.refused.length));
  }
}
