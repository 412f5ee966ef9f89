import type { Fault } from '../line-meaning.ts';
import { quoteText } from '../quote-value.ts';
import { lineText } from '../text-bytes.ts';

/** A payload as JSON, or why it is none. */
export function jsonOf(payload: Uint8Array): { readonly value: unknown } | { readonly fault: Fault } {
  const text = lineText(payload);
  if (typeof text !== 'string') {
    return {
      fault: { what: 'the payload is no text in UTF-8', remedy: 'send JSON in UTF-8; check what the topic carries' },
    };
  }
  try {
    return { value: JSON.parse(text) as unknown };
  } catch {
    const trimmed = text.trim();
    return { fault: { what: `${quoteText(trimmed)} is no JSON`, remedy: 'send one JSON value a message, whole' } };
  }
}
