/** Which filters are enough to hear what many name: a broker may send a message once for each that it matches. */

/** Whether every topic of the narrow filter is one of the wide one (MQTT 5.0, 4.7). */
export function covers(wide: string, narrow: string): boolean {
  // 4.7.2: no wildcard in front takes topics that begin with $.
  if (narrow.startsWith('$') && /^[+#]/.test(wide)) return false;
  const [outer, inner] = [wide.split('/'), narrow.split('/')];
  for (const [k, level] of outer.entries()) {
    // 4.7.1.2: `#` takes its parent level too.
    if (level === '#') return true;
    if (inner[k] === undefined || inner[k] === '#') return false;
    if (level !== '+' && level !== inner[k]) return false;
  }
  return outer.length === inner.length;
}

/** Those that no other one covers, each once. */
export function widestFilters(filters: readonly string[]): readonly string[] {
  const all = [...new Set(filters)];
  return all.filter((one) => !all.some((other) => other !== one && covers(other, one)));
}
