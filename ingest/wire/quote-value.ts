const LONGEST = 60;

/** A text in quotes for a message, cut to 60 characters; control characters are escaped. */
export function quoteText(text: string): string {
  // Escapes lengthen a text, so it is cut before they are made.
  return JSON.stringify(text.length > LONGEST ? `${text.slice(0, LONGEST - 1)}…` : text);
}

/** Any value of a line as it may stand in a message. Objects are named only: they may be deep and long. */
export function quoteValue(value: unknown): string {
  if (typeof value === 'string') return quoteText(value);
  if (Array.isArray(value)) return 'a list';
  if (typeof value === 'object' && value !== null) return 'an object';
  return String(value);
}
