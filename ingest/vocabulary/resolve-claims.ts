/**
 * Which value a cell reads as when more than one line spoke of it. The outcome depends on what was claimed,
 * never on what came first (formats.md, section 3).
 */

/** One claimed value, as JSON. */
interface Claimed {
  readonly value: string;
  readonly replaces: boolean;
  readonly revision: number;
}

/**
 * The value that holds among claims for one cell.
 *
 * Lines that replace beat lines that do not; of those the highest revision; values that still differ
 * leave the cell undecided.
 *
 * @returns the value as JSON, or null where it is undecided
 */
export function resolveClaims(claims: readonly Claimed[]): string | null {
  const replacing = claims.filter((c) => c.replaces);
  const revision = Math.max(...replacing.map((c) => c.revision));
  const deciding = replacing.length > 0 ? replacing.filter((c) => c.revision === revision) : claims;
  const values = new Set(deciding.map((c) => c.value));
  return values.size === 1 ? [...values][0]! : null;
}
