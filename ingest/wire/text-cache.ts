const PLACES = 256;

/** Makes texts of plain ASCII bytes; a text that came before at its place in the table is not made again. */
export class TextCache {
  readonly #texts: string[] = new Array<string>(PLACES).fill('');

  /** @returns the text of the ASCII letters in [from, to) */
  read(bytes: Uint8Array, from: number, to: number): string {
    if (from === to) return '';
    const place = (bytes[from]! * 31 + bytes[to - 1]! * 7 + (to - from)) % PLACES;
    const known = this.#texts[place]!;
    if (isSame(bytes, from, to, known)) return known;
    let text = '';
    for (let at = from; at < to; at += 1) text += String.fromCharCode(bytes[at]!);
    this.#texts[place] = text;
    return text;
  }
}

function isSame(bytes: Uint8Array, from: number, to: number, text: string): boolean {
  if (text.length !== to - from) return false;
  for (let k = 0; k < text.length; k += 1) if (bytes[from + k] !== text.charCodeAt(k)) return false;
  return true;
}
