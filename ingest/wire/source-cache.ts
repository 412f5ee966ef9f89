import { SOURCE_KINDS } from '../vocabulary/quantities.ts';
import type { SourceKey } from '../vocabulary/reading.ts';
import type { BatchBuilder } from './batch-builder.ts';
import { isFault, readSource } from './line-meaning.ts';

/** More sources than any fleet file has; beyond it the memory of them begins anew. */
const MOST_SOURCES = 4096;
const LONGEST_ID = 40;

interface CachedSource {
  readonly key: SourceKey;
  /** Place of the kind in `SOURCE_KINDS`. */
  readonly kind: number;
  readonly site: Uint8Array;
  readonly id: Uint8Array;
  /** Place in the batch numbered `batch`. */
  place: number;
  batch: number;
  /** The source that came after this one last time: logs go round. */
  next: CachedSource | null;
}

function isSame(bytes: Uint8Array, from: number, to: number, expected: Uint8Array): boolean {
  const length = expected.length;
  if (to - from !== length) return false;
  for (let k = 0; k < length; k += 1) if (bytes[from + k] !== expected[k]) return false;
  return true;
}

/** Finds the place of a source by the bytes of its ids, without making texts of them. */
export class SourceCache {
  readonly #builder: BatchBuilder;
  #byName = new Map<string, CachedSource>();
  #last: CachedSource | null = null;
  #batch = 0;

  constructor(builder: BatchBuilder) {
    this.#builder = builder;
  }

  /** Call it when the builder begins a new batch: places are counted anew. */
  startBatch(): void {
    this.#batch += 1;
    if (this.#byName.size > MOST_SOURCES) {
      this.#byName = new Map();
      this.#last = null;
    }
  }

  /** @returns the place in the batch, or -1 where one of the ids has a form that is refused */
  placeOf(bytes: Uint8Array, siteFrom: number, siteTo: number, kind: number, idFrom: number, idTo: number): number {
    let source = this.#last?.next ?? null;
    const isAsExpected =
      source !== null &&
      source.kind === kind &&
      isSame(bytes, idFrom, idTo, source.id) &&
      isSame(bytes, siteFrom, siteTo, source.site);
    if (!isAsExpected) source = this.#find(bytes, siteFrom, siteTo, kind, idFrom, idTo);
    if (source === null) return -1;
    this.#last = source;
    if (source.batch !== this.#batch) {
      source.place = this.#builder.placeOf(source.key);
      source.batch = this.#batch;
    }
    return source.place;
  }

  #find(
    bytes: Uint8Array,
    siteFrom: number,
    siteTo: number,
    kind: number,
    idFrom: number,
    idTo: number,
  ): CachedSource | null {
    if (siteTo - siteFrom > LONGEST_ID || idTo - idFrom > LONGEST_ID) return null;
    const site = String.fromCharCode(...bytes.subarray(siteFrom, siteTo));
    const id = String.fromCharCode(...bytes.subarray(idFrom, idTo));
    const name = `${site}/${kind}/${id}`;
    let source = this.#byName.get(name) ?? null;
    if (source === null) {
      const key = readSource(site, SOURCE_KINDS[kind]!, id);
      if (isFault(key)) return null;
      source = {
        key,
        kind,
        site: bytes.slice(siteFrom, siteTo),
        id: bytes.slice(idFrom, idTo),
        place: 0,
        batch: -1,
        next: null,
      };
      this.#byName.set(name, source);
    }
    if (this.#last !== null) this.#last.next = source;
    return source;
  }
}
