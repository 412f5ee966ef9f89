/** Whether every word of a filter stands somewhere in a text, whatever its case. Pure. */
export function matches(filter: string, text: string): boolean {
  const lower = text.toLowerCase();
  return filter
    .toLowerCase()
    .split(/\s+/)
    .every((word) => lower.includes(word));
}
