/** How paralleled units divide a load: one node, sources behind resistances, limits. */

/** A path that carries nothing: large enough to be open, small enough to divide by. */
export const OPEN_OHM = 1e9;

/** 1/58 Ω·mm²/m: plain annealed copper at 20 °C (IEC 60028, from memory). */
const COPPER_OHM_MM2_PER_M = 1 / 58;
const COPPER_PER_K = 0.00393;

/** Resistance of a run of copper, both conductors, Ω. @param lengthM one way */
export function cableOhm(cable: { readonly lengthM: number; readonly areaMm2: number }, temperatureC: number): number {
  const at20 = (COPPER_OHM_MM2_PER_M * 2 * cable.lengthM) / cable.areaMm2;
  return at20 * (1 + COPPER_PER_K * (temperatureC - 20));
}

/** The units of one phase: emf and resistance in, currents out. Arrays are as long as the site has units. */
export interface Node {
  readonly emfV: Float64Array;
  readonly pathOhm: Float64Array;
  /** Most a unit can give, A; Infinity where nothing limits it. */
  readonly limitA: Float64Array;
  readonly currentA: Float64Array;
}

export function createNode(units: number): Node {
  return {
    emfV: new Float64Array(units),
    pathOhm: new Float64Array(units).fill(OPEN_OHM),
    limitA: new Float64Array(units).fill(Infinity),
    currentA: new Float64Array(units),
  };
}

/**
 * Divides a current among the members of a node: I_i = (E_i − V)/R_i with ΣI_i = the load's (Millman).
 * A unit that would pass its limit gives just that, and the others take the rest; where all are at
 * their limit, all go beyond it alike.
 *
 * @param members  places of the units on this node
 * @param loadA    current drawn from the node, A; negative where the node is fed
 * @returns the node's voltage, V; `node.currentA` holds the currents
 */
export function solveNode(node: Node, members: readonly number[], loadA: number): number {
  const { emfV, pathOhm, limitA, currentA } = node;
  let limited = 0;
  for (let round = 0; round <= 2 * members.length + 1; round++) {
    let conductance = 0;
    let driven = 0;
    let restA = loadA;
    for (const i of members) {
      if ((limited & (1 << i)) !== 0) restA -= limitA[i]!;
      else {
        conductance += 1 / pathOhm[i]!;
        driven += emfV[i]! / pathOhm[i]!;
      }
    }
    if (conductance === 0) {
      limited = 0;
      for (const i of members) limitA[i] = Infinity;
      continue;
    }
    const nodeV = (driven - restA) / conductance;
    let more = false;
    for (const i of members) {
      if ((limited & (1 << i)) !== 0) currentA[i] = limitA[i]!;
      else {
        currentA[i] = (emfV[i]! - nodeV) / pathOhm[i]!;
        if (currentA[i]! > limitA[i]!) {
          limited |= 1 << i;
          more = true;
        }
      }
    }
    if (!more) return nodeV;
  }
  throw new RangeError(`Cannot share ${loadA} A among ${members.length} units: limits do not settle`);
}
