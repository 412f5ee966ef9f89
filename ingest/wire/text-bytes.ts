import type { Fault } from './line-meaning.ts';
import { quoteText } from './quote-value.ts';

const UTF_8 = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
/** Enough of a line for its message. */
const SHOWN = 80;

/** Whether nothing but spaces, tabs and carriage returns stand in [from, to). */
export function isBlank(bytes: Uint8Array, from: number, to: number): boolean {
  for (let at = from; at < to; at += 1) {
    const byte = bytes[at];
    if (byte !== 32 && byte !== 9 && byte !== 13 && byte !== 10) return false;
  }
  return true;
}

/** Length of the byte order mark of UTF-8 at the start of these bytes: 3, or 0 where there is none. */
export function markLength(bytes: Uint8Array): number {
  return bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? 3 : 0;
}

/** The text of one line, or why there is none: NUL bytes, or bytes that are no UTF-8. */
export function lineText(line: Uint8Array): string | Fault {
  if (line.includes(0)) {
    return {
      what: 'the line holds NUL bytes',
      remedy: 'the file was cut by a power loss, or is UTF-16: send what was lost again, or save the file as UTF-8',
    };
  }
  try {
    return UTF_8.decode(line);
  } catch {
    const shown = new TextDecoder().decode(line.subarray(0, SHOWN));
    return {
      what: `${quoteText(shown)} holds bytes that are not UTF-8`,
      remedy: 'the file is probably in another encoding: save it again as UTF-8',
    };
  }
}
