/** The path of one unit's current from the supply point to the loads. */
export interface WiredPath {
  /** Input and output cable, both conductors, Ω, at least 0. */
  readonly cablesOhm: number;
  /** Relays, breakers and terminals, Ω, at least 0. */
  readonly contactOhm: number;
}

/**
 * Share of the load that each unit carries with closed pass-through relays: the current divides as the paths' conductances.
 *
 * @param paths  one a unit, Ω; at least one; cables and contacts together above 0
 * @returns shares 0…1 in the order given; their sum is 1
 * @throws RangeError  if there is no path, a resistance is negative or not finite, or a path has none at all
 * @see derived: current divider, share_k = (1/R_k) / Σ(1/R)
 */
export function expectedWiredShare(paths: readonly WiredPath[]): number[] {
  if (paths.length === 0) throw new RangeError('Cannot expect a share: needs at least 1 path');
  const conductancesS = paths.map(({ cablesOhm, contactOhm }) => {
    const ohm = cablesOhm + contactOhm;
    if (!(cablesOhm >= 0 && contactOhm >= 0 && ohm > 0 && Number.isFinite(ohm))) {
      throw new RangeError(
        `Cannot expect a share: path of ${cablesOhm} Ω cables and ${contactOhm} Ω contacts is not above 0`,
      );
    }
    return 1 / ohm;
  });
  const totalS = conductancesS.reduce((total, s) => total + s, 0);
  return conductancesS.map((s) => s / totalS);
}
