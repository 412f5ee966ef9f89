/** A site at one instant: which law shares the load, what each unit carries, what the battery and the grid give. */
import type { SharingLaw } from '../site/record.ts';
import { OPEN_OHM, solveNode } from './sharing.ts';
import { outageNear, type SiteState } from './site-state.ts';

const SETPOINT_V = 230;
/** What a unit uses itself, W, and what conversion costs, as a share. */
const OWN_USE_W = 22;
const CONVERSION_LOSS = 0.04;

/** Electronics of one unit fed from the battery while it waits, W. */
export const IDLE_DC_W = 9;

/** Frequency of the set on its own against its load as a share of the rating: a slight droop, a steep sag beyond the rating. */
export function islandFrequencyHz(loadShare: number): number {
  return 50 - 0.1 * Math.max(0, loadShare) - 8 * Math.max(0, loadShare - 1);
}

function lawNow(state: SiteState): SharingLaw {
  return state.instant.onGrid ? state.plan.sharing.grid : state.plan.sharing.backup;
}

/** Sets the sources and paths of the units of one phase to what the law says. */
function prepareNode(state: SiteState, members: readonly number[], law: SharingLaw, loadA: number): void {
  const { node, effects, instant } = state;
  for (const i of members) {
    const ohm = state.inputOhm[i]! + state.contactOhm[i]! + state.outputOhm[i]!;
    if (law === 'wired') {
      node.emfV[i] = instant.gridVoltageV;
      node.pathOhm[i] = ohm;
      node.limitA[i] = Infinity;
    } else if (law === 'droop') {
      node.emfV[i] = SETPOINT_V + state.calibrationV[i]! + effects.emfShiftV[i]! - effects.sagOhm * loadA;
      node.pathOhm[i] = state.droopOhm[i]! + state.outputOhm[i]!;
      node.limitA[i] = state.ceilingW[i]! / SETPOINT_V;
    } else {
      node.emfV[i] = SETPOINT_V - effects.sagOhm * loadA;
      // Ratios only: the link holds each unit to its share of the ratings, whatever its cables.
      node.pathOhm[i] = 200 / state.ratedW[i]!;
      node.limitA[i] = state.ceilingW[i]! / SETPOINT_V;
    }
    if (effects.outputOpen[i] === 1 || state.swapping[i] === 1) node.pathOhm[i] = OPEN_OHM;
  }
}

/** Shares one phase's load, W and var, among its units; leaves currents' powers and voltages in the instant. */
function sharePhase(state: SiteState, g: number, loadW: number, loadVar: number): void {
  const { node, instant } = state;
  const members = state.groups[g]!;
  const law = lawNow(state);
  const startV = law === 'wired' ? instant.gridVoltageV : instant.nodeV[g]! > 100 ? instant.nodeV[g]! : SETPOINT_V;
  const loadA = loadW / startV;
  prepareNode(state, members, law, loadA);
  const nodeV = solveNode(node, members, loadA);
  instant.nodeV[g] = nodeV;
  let conductance = 0;
  for (const i of members) conductance += 1 / node.pathOhm[i]!;
  for (const i of members) {
    const currentA = node.currentA[i]!;
    const voltageV = nodeV + currentA * state.outputOhm[i]!;
    const isOff = node.pathOhm[i]! >= OPEN_OHM;
    instant.voltageV[i] = isOff ? (law === 'wired' ? instant.gridVoltageV : SETPOINT_V) : voltageV;
    instant.activeW[i] = isOff ? 0 : currentA * voltageV;
    instant.reactiveVar[i] = isOff ? 0 : loadVar / (node.pathOhm[i]! * conductance);
  }
}

function goDead(state: SiteState): void {
  const { instant } = state;
  instant.frequencyHz = Number.NaN;
  instant.nodeV.fill(0);
  for (const array of [
    instant.activeW,
    instant.reactiveVar,
    instant.voltageV,
    instant.gridW,
    instant.pvW,
    instant.unitGridV,
  ])
    array.fill(0);
  instant.dcW.fill(IDLE_DC_W);
  instant.acPvW = 0;
}

/** What flows on the dc side and to the grid, once the outputs are known. */
function balanceUnits(state: SiteState): void {
  const { instant } = state;
  for (let i = 0; i < state.ratedW.length; i++) {
    const outW = instant.activeW[i]!;
    const pvW = state.pvPeakW[i]! * state.weather.sunShare * (instant.onGrid ? 1 : state.pvFactor);
    instant.pvW[i] = pvW;
    if (instant.onGrid) {
      const dcW = (state.dcCommandW * state.ratedW[i]!) / state.siteRatedW;
      const lossW = OWN_USE_W + CONVERSION_LOSS * Math.abs(dcW + pvW);
      instant.dcW[i] = dcW;
      instant.gridW[i] = outW + lossW - pvW - dcW;
      instant.unitGridV[i] = instant.gridVoltageV - (instant.gridW[i]! / 230) * state.inputOhm[i]!;
    } else {
      instant.dcW[i] = outW + OWN_USE_W + CONVERSION_LOSS * Math.abs(outW) - pvW;
      instant.gridW[i] = 0;
      instant.unitGridV[i] = 0;
    }
  }
}

/**
 * Works out the site at tMs for the loads given, into `state.instant`.
 *
 * @param loadW    active load of each phase, W, before AC-coupled PV is taken off
 * @param loadVar  reactive load of each phase, var
 */
export function evaluate(state: SiteState, tMs: number, loadW: Float64Array, loadVar: Float64Array): void {
  const { instant, grid, brownout, trip } = state;
  const outage = outageNear(state);
  instant.onGrid = outage === null || tMs < outage.start || tMs >= outage.end;
  const isBrownout = brownout !== null && tMs >= brownout.start && tMs < brownout.end;
  instant.gridVoltageV = isBrownout ? brownout.voltageV : grid.voltageV;
  instant.isLost = !instant.onGrid && tMs >= trip.from && tMs < trip.to;
  if (instant.isLost) {
    goDead(state);
    return;
  }
  const acPvW = state.plan.acPvW * state.weather.sunShare * (instant.onGrid ? 1 : state.acPvFactor);
  instant.acPvW = acPvW;
  let totalW = 0;
  for (let g = 0; g < state.groups.length; g++) {
    const restW = loadW[g]! - acPvW / state.groups.length;
    totalW += restW;
    sharePhase(state, g, restW, loadVar[g]!);
  }
  // PV behind its own inverter is held back by a frequency between 50.2 and 51.6 Hz.
  const raisedHz = state.acPvFactor < 1 ? 0.3 + 1.3 * (1 - state.acPvFactor) : 0;
  instant.frequencyHz = instant.onGrid ? grid.frequencyHz : islandFrequencyHz(totalW / state.siteRatedW) + raisedHz;
  balanceUnits(state);
}

/** The load of one second of the day, into `state.pointLoadW` and `pointLoadVar`; whether it differs from what stood there. */
export function loadAtSecond(state: SiteState, second: number): boolean {
  let hasChanged = false;
  for (let g = 0; g < state.groups.length; g++) {
    const watts = state.loads[g]!.activeW[second]!;
    const vars = state.loads[g]!.reactiveVar[second]!;
    if (watts !== state.pointLoadW[g] || vars !== state.pointLoadVar[g]) hasChanged = true;
    state.pointLoadW[g] = watts;
    state.pointLoadVar[g] = vars;
  }
  return hasChanged;
}

/** Battery current of the whole set at the instant, A; + = discharging. */
export function busCurrentA(state: SiteState): number {
  let watts = 0;
  for (let i = 0; i < state.ratedW.length; i++) watts += state.instant.dcW[i]!;
  return watts / state.bank.busV;
}
