/**
 * Which value a cell reads as when more than one line spoke of it. The outcome depends on what was claimed,
 * never on what came first (formats.md, section 3).
 */
import type { Claim } from '../store/reading-store.ts';

type Claimed = Pick<Claim, 'value' | 'replaces' | 'revision'>;

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

/** Claims of one source and day by cell, and those that are new. */
export interface ClaimBook {
  /** Claims that were not there before. */
  readonly added: readonly Claim[];
  /** The claims of a cell, or undefined where no line contradicted or replaced there. */
  of(t: number, quantity: string): readonly Claim[] | undefined;
  /** Adds a claim. @returns false where the same was claimed before */
  add(claim: Claim): boolean;
}

export function createClaimBook(known: readonly Claim[]): ClaimBook {
  const byCell = new Map<string, Claim[]>();
  const added: Claim[] = [];
  const cell = (t: number, quantity: string): string => `${t} ${quantity}`;
  const put = (claim: Claim): boolean => {
    const key = cell(claim.t, claim.quantity);
    const claims = byCell.get(key);
    if (claims === undefined) {
      byCell.set(key, [claim]);
      return true;
    }
    const isKnown = claims.some(
      (c) => c.value === claim.value && c.replaces === claim.replaces && c.revision === claim.revision,
    );
    if (!isKnown) claims.push(claim);
    return !isKnown;
  };
  for (const claim of known) put(claim);
  return {
    added,
    of: (t, quantity) => (byCell.size === 0 ? undefined : byCell.get(cell(t, quantity))),
    add(claim) {
      const isNew = put(claim);
      if (isNew) added.push(claim);
      return isNew;
    },
  };
}
