/** JSON and objects that are equal for equal values, whatever the order in which their keys came. */

/** A key such as `__proto__` is data like any other. */
export function define(target: Record<string, unknown>, key: string, value: unknown): void {
  Object.defineProperty(target, key, { value, enumerable: true, configurable: true, writable: true });
}

function sortedKeys(values: Record<string, unknown>): Record<string, unknown> {
  const sorted: Record<string, unknown> = {};
  for (const key of Object.keys(values).sort()) define(sorted, key, values[key]);
  return sorted;
}

/** Equal values in equal bytes, whatever the order of their keys as sent. */
export function inOneOrder(values: Readonly<Record<string, unknown>>): Record<string, unknown> {
  return JSON.parse(sortedJson(values)) as Record<string, unknown>;
}

/** JSON that is equal for equal values, whatever the order of their keys. */
export function sortedJson(value: unknown): string {
  return JSON.stringify(value, (_, inner: unknown) =>
    inner !== null && typeof inner === 'object' && !Array.isArray(inner)
      ? sortedKeys(inner as Record<string, unknown>)
      : inner,
  );
}
