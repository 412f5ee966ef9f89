/**
 * Current of each source when sources with series resistance feed one node.
 *
 * Each source k is an EMF behind a resistance; all share the node voltage V and
 * I_k = (E_k − V) / R_k, with Σ I_k equal to the load current. A negative current is a source being charged.
 *
 * @param emfV           open-circuit voltage of each source, V; length n ≥ 1
 * @param resistanceOhm  source plus cable resistance, Ω; length n, each above 0
 * @param loadCurrentA   current drawn from the node, A; may be 0 or negative
 * @returns currents in A, length n; their sum is loadCurrentA to rounding
 * @throws RangeError    if the lengths differ, a figure is not finite or a resistance is not above 0
 * @see J. Millman, "A useful network theorem", Proc. IRE 28(9), 1940, p. 413 (from memory, unverified)
 */
export function parallelCurrentsA(
  emfV: readonly number[],
  resistanceOhm: readonly number[],
  loadCurrentA: number,
): number[] {
  const nodeV = nodeVoltageV(emfV, resistanceOhm, loadCurrentA);
  return emfV.map((emf, k) => (emf - nodeV) / resistanceOhm[k]!);
}

/**
 * Voltage of the node that the sources feed, for a given load current.
 *
 * @param emfV           open-circuit voltage of each source, V; length n ≥ 1
 * @param resistanceOhm  source plus cable resistance, Ω; length n, each above 0
 * @param loadCurrentA   current drawn from the node, A; may be 0 or negative
 * @returns V = (Σ E/R − I) / Σ 1/R, in V
 * @throws RangeError    if the lengths differ, a figure is not finite or a resistance is not above 0
 * @see parallelCurrentsA
 */
export function nodeVoltageV(emfV: readonly number[], resistanceOhm: readonly number[], loadCurrentA: number): number {
  const { shortCircuitA, conductanceS } = equivalentSource(emfV, resistanceOhm);
  if (!Number.isFinite(loadCurrentA))
    throw new RangeError(`Cannot share a load: load current ${loadCurrentA} A is not a finite number`);
  return (shortCircuitA - loadCurrentA) / conductanceS;
}

/**
 * Voltage of the node that the sources feed, for a load that is a resistor.
 *
 * @param emfV           open-circuit voltage of each source, V; length n ≥ 1
 * @param resistanceOhm  source plus cable resistance, Ω; length n, each above 0
 * @param loadOhm        load resistance, Ω, above 0; Infinity is no load
 * @returns V = Σ E/R / (Σ 1/R + 1/R_load), in V; the load then draws V / loadOhm
 * @throws RangeError    if the lengths differ, a figure is not finite or a resistance is not above 0
 * @see parallelCurrentsA
 */
export function nodeVoltageWithResistorV(
  emfV: readonly number[],
  resistanceOhm: readonly number[],
  loadOhm: number,
): number {
  const { shortCircuitA, conductanceS } = equivalentSource(emfV, resistanceOhm);
  if (!(loadOhm > 0)) throw new RangeError(`Cannot share a load: load resistance ${loadOhm} Ω is not above 0`);
  return shortCircuitA / (conductanceS + 1 / loadOhm);
}

/** All sources as one: the current into a short circuit, and the sum of conductances. */
function equivalentSource(
  emfV: readonly number[],
  resistanceOhm: readonly number[],
): { readonly shortCircuitA: number; readonly conductanceS: number } {
  if (emfV.length !== resistanceOhm.length) {
    throw new RangeError(`Cannot share a load: ${emfV.length} voltages but ${resistanceOhm.length} resistances`);
  }
  if (emfV.length === 0) throw new RangeError('Cannot share a load: needs at least 1 source');
  let shortCircuitA = 0;
  let conductanceS = 0;
  for (const [k, emf] of emfV.entries()) {
    const ohm = resistanceOhm[k]!;
    if (!Number.isFinite(emf)) throw new RangeError(`Cannot share a load: voltage ${emf} V is not a finite number`);
    if (!(ohm > 0 && Number.isFinite(ohm)))
      throw new RangeError(`Cannot share a load: resistance ${ohm} Ω is not above 0`);
    shortCircuitA += emf / ohm;
    conductanceS += 1 / ohm;
  }
  return { shortCircuitA, conductanceS };
}
