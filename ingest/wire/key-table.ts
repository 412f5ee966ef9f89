import { COLUMNS, SOURCE_KINDS } from '../vocabulary/quantities.ts';

/** What a key of a plain line is for. */
export const ROLE = { quantity: 0, time: 1, site: 2, source: 3, extra: 4, rare: 5 } as const;
type Role = (typeof ROLE)[keyof typeof ROLE];

export interface Key {
  readonly name: string;
  readonly bytes: Uint8Array;
  /** The same, four at a time, little-endian; the rest of the division is left out. */
  readonly fours: Int32Array;
  readonly role: Role;
  /** Place of the source kind in `SOURCE_KINDS`: of the kind a quantity belongs to, or a source key names. */
  readonly kind: number;
  readonly column: number;
  readonly decimals: number;
  /** The words of an enumeration as bytes, null for a number. */
  readonly words: readonly Uint8Array[] | null;
  /** Number of the line it was last seen on: a key that comes twice on a line is left to the slow path. */
  seenOn: number;
  /** The keys that came after this one, the latest first. */
  readonly followers: Key[];
}

/** Unknown keys that are remembered; a line with others goes the slow path. */
const MOST_UNKNOWN = 256;
const LONGEST_KEY = 64;
const MOST_FOLLOWERS = 6;
/** Keys that need more than a plain line's attention; `state` means something only beside `alarm`. */
export const RARE_KEYS: readonly string[] = ['replaces', 'revision', 'settings', 'alarm', 'state', '__proto__'];

export function asciiBytes(text: string): Uint8Array {
  return Uint8Array.from(text, (letter) => letter.charCodeAt(0));
}

function plainKey(name: string, role: Role, kind = 0): Key {
  const bytes = asciiBytes(name);
  const view = new DataView(bytes.buffer);
  const fours = Int32Array.from({ length: bytes.length >> 2 }, (_, k) => view.getInt32(4 * k, true));
  return { name, bytes, fours, role, kind, column: -1, decimals: 0, words: null, seenOn: -1, followers: [] };
}

function knownKeys(): Key[] {
  const quantities = SOURCE_KINDS.flatMap((name, kind) =>
    COLUMNS[name].map(({ id, index, decimals, words }): Key => {
      const asBytes = words === null ? null : words.map(asciiBytes);
      return { ...plainKey(id, ROLE.quantity, kind), column: index, decimals, words: asBytes };
    }),
  );
  return [
    ...quantities,
    plainKey('t', ROLE.time),
    plainKey('site', ROLE.site),
    ...SOURCE_KINDS.map((name, kind) => plainKey(name, ROLE.source, kind)),
    ...RARE_KEYS.map((name) => plainKey(name, ROLE.rare)),
  ];
}

/** Whether the name of a key stands at `from`, with a quote after it; four bytes at a time, which is twice as fast. */
function standsAt(bytes: DataView, from: number, { name, fours, bytes: single }: Key): boolean {
  const end = from + name.length;
  if (end >= bytes.byteLength || bytes.getUint8(end) !== 34) return false;
  // The end of a key tells more than its beginning: grid_voltage_v and grid_frequency_hz begin alike.
  for (let k = fours.length - 1; k >= 0; k -= 1) if (bytes.getInt32(from + 4 * k, true) !== fours[k]) return false;
  for (let k = 4 * fours.length; k < single.length; k += 1) if (bytes.getUint8(from + k) !== single[k]) return false;
  return true;
}

/**
 * Recognises the keys of NDJSON lines from their bytes: first the keys that followed the last one
 * before, since lines of one shape repeat; only then by name.
 */
export class KeyTable {
  readonly #byName = new Map(knownKeys().map((key) => [key.name, key]));
  /** What comes before the first key of a line. */
  readonly start: Key = plainKey('', ROLE.rare);
  #unknown = 0;

  /**
   * @param view  of the same bytes
   * @returns the key whose name begins at `from`, or null where it is left to the slow path
   */
  keyAt(bytes: Uint8Array, view: DataView, from: number, before: Key): Key | null {
    const { followers } = before;
    for (let k = 0; k < followers.length; k += 1) {
      const key = followers[k]!;
      if (standsAt(view, from, key)) return key;
    }
    return this.#find(bytes, from, before);
  }

  #find(bytes: Uint8Array, from: number, before: Key): Key | null {
    let to = from;
    while (bytes[to] !== 34) {
      const byte = bytes[to];
      // Control characters, escapes and letters beyond ASCII are not plain.
      if (byte === undefined || byte < 32 || byte > 126 || byte === 92 || to - from >= LONGEST_KEY) return null;
      to += 1;
    }
    const name = String.fromCharCode(...bytes.subarray(from, to));
    let key = this.#byName.get(name);
    if (key === undefined) {
      if (this.#unknown >= MOST_UNKNOWN) return null;
      this.#unknown += 1;
      key = plainKey(name, ROLE.extra);
      this.#byName.set(name, key);
    }
    before.followers.unshift(key);
    if (before.followers.length > MOST_FOLLOWERS) before.followers.pop();
    return key;
  }
}
