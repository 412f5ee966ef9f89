/** JSON Pointer (RFC 6901). */

const FORM = /^(?:\/(?:[^~/]|~0|~1)*)*$/;
const INDEX = /^(?:0|[1-9]\d{0,9})$/;

/** Whether a text is a pointer: empty, or levels that each begin with a slash. */
export function isJsonPointer(text: string): boolean {
  return FORM.test(text);
}

/** @returns a function that gives what stands there; undefined where nothing does */
export function jsonPointer(text: string): (value: unknown) => unknown {
  const tokens = text
    .split('/')
    .slice(1)
    .map((token) => token.replaceAll('~1', '/').replaceAll('~0', '~'));
  return (value) => {
    let at = value;
    for (const token of tokens) {
      if (typeof at !== 'object' || at === null) return undefined;
      if (Array.isArray(at)) at = INDEX.test(token) ? (at[Number(token)] as unknown) : undefined;
      // Only what the message itself holds: "constructor" is no member of every object.
      else at = Object.hasOwn(at, token) ? (Reflect.get(at, token) as unknown) : undefined;
    }
    return at;
  };
}
