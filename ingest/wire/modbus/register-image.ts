import type { RegisterRead } from './dialogue.ts';

const TABLES = { holding: 0, input: 1, coil: 2, discrete: 3 } as const;
const ADDRESSES = 65_536;

/** What one poll has read, by table and address. Words that were not read are not there. */
export class RegisterImage {
  readonly #words = new Map<number, number>();

  /** All of them in one; where several hold a word, the last. */
  static joined(images: readonly RegisterImage[]): RegisterImage {
    const joined = new RegisterImage();
    for (const image of images) for (const [place, word] of image.#words) joined.#words.set(place, word);
    return joined;
  }

  put({ table, address }: RegisterRead, words: Uint16Array): void {
    const base = TABLES[table] * ADDRESSES + address;
    for (let k = 0; k < words.length; k += 1) this.#words.set(base + k, words[k]!);
  }

  /** The words of that place, or null where any of them was not read. */
  at({ table, address, count }: RegisterRead): Uint16Array | null {
    const base = TABLES[table] * ADDRESSES + address;
    const words = new Uint16Array(count);
    for (let k = 0; k < count; k += 1) {
      const word = this.#words.get(base + k);
      if (word === undefined) return null;
      words[k] = word;
    }
    return words;
  }
}
