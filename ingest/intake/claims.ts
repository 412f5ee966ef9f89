/** The claims of one source and day: what lines said of a cell beyond one plain value. */
import type { Claim } from '../store/claim.ts';

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
