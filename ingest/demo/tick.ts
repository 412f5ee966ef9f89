/** Moves a site on by one tick: weather, grid, faults, battery, heat, counters, and what an outage does to it. */
import { bankCharge, stepBank } from './battery.ts';
import { commandBattery, holdPvBack } from './battery-rules.ts';
import { busCurrentA, evaluate, loadAtSecond } from './evaluate.ts';
import { effectsAt } from './faults.ts';
import { stepGrid } from './grid.ts';
import { cableOhm } from './sharing.ts';
import { type OutageTruth, outageNear, type SiteState } from './site-state.ts';
import { stepWeather } from './weather.ts';

/** A heat wave lifts the valley's days by this much in the last quarter of the period, K. */
const HEAT_WAVE_K = 9;

/** Heatsinks: rise at full load with the fan running, how much more without, and how fast. */
const FULL_LOAD_RISE_K = 34;
const NO_FAN_FACTOR = 12;
const HEATSINK_TAU_S = 600;
/** Where a unit begins to cut its power back, and how much per kelvin. */
const DERATE_FROM_C = 58;
const DERATE_PER_K = 0.03;

/** An overload beyond this share of the rating for this long trips the output; it tries again after a while. */
const TRIP_SHARE = 1.15;
const TRIP_AFTER_S = 20;
const RESTART_MS = 90_000;
const MOST_RESTARTS = 2;

function moveWeather(state: SiteState, tMs: number, dtS: number): void {
  const { plan, period } = state;
  const isHot = plan.heatWave && tMs > period.from + 0.7 * (period.to - period.from);
  stepWeather(state.weather, state.slowPrng, tMs, dtS, isHot ? HEAT_WAVE_K : 0);
  stepGrid(state.grid, state.slowPrng, dtS);
}

/** Puts faults, replacement and temperature into resistances and packs. */
function applyCondition(state: SiteState, tMs: number): void {
  const { plan, effects, bank, weather } = state;
  effectsAt(effects, plan.faults, state.unitIds, state.packIds, tMs);
  const swap = plan.replacement;
  plan.units.forEach((unit, i) => {
    state.inputOhm[i] = cableOhm(unit.inputCable, weather.ambientC);
    state.outputOhm[i] = cableOhm(unit.outputCable, weather.ambientC) + effects.addedOhm[i]!;
    if (swap === null || swap.unit !== unit.id || tMs < swap.at) return;
    state.contactOhm[i] = swap.contactOhm;
    const isBeingSwapped = tMs < swap.at + 7 * 60_000;
    if (isBeingSwapped) state.outputWh[i] = state.importWh[i] = state.pvWh[i] = 0;
    state.swapping[i] = isBeingSwapped ? 1 : 0;
  });
  plan.packs.forEach((pack, k) => {
    bank.resistanceOhm[k] = pack.resistanceOhm * effects.packOhmFactor[k]!;
    bank.capacityAh[k] = pack.capacityAh * effects.capacityFactor[k]!;
    bank.isOpen[k] = effects.packOpen[k]!;
    bank.offsetA[k] = state.sensorOffsetA[k]! + (effects.gaugePctPerDay[k]! * pack.capacityAh) / 2400;
    bank.ignoresFull[k] = effects.gaugePctPerDay[k] === 0 ? 0 : 1;
  });
}

function averageLoad(state: SiteState, fromS: number, toS: number): number {
  let totalW = 0;
  for (let g = 0; g < state.groups.length; g++) {
    const { activeW, reactiveVar } = state.loads[g]!;
    let watts = 0;
    let vars = 0;
    for (let s = fromS; s < toS; s++) {
      watts += activeW[s]!;
      vars += reactiveVar[s]!;
    }
    state.meanLoadW[g] = watts / (toS - fromS);
    state.meanLoadVar[g] = vars / (toS - fromS);
    totalW += state.meanLoadW[g]!;
  }
  return totalW;
}

function warmHeatsinks(state: SiteState, dtS: number): void {
  const keep = Math.exp(-dtS / HEATSINK_TAU_S);
  const { instant, effects } = state;
  const isRelayOnly = instant.onGrid && state.plan.sharing.grid === 'wired';
  for (let i = 0; i < state.ratedW.length; i++) {
    const share = Math.abs(instant.activeW[i]!) / state.ratedW[i]!;
    const converted = Math.abs(instant.dcW[i]! + instant.pvW[i]!) / state.ratedW[i]!;
    const loading = isRelayOnly ? 0.25 * share + converted : Math.max(share, converted);
    const rise = FULL_LOAD_RISE_K * loading ** 1.4 * (effects.fanDead[i] === 1 ? NO_FAN_FACTOR : 1);
    const target = state.weather.ambientC + 5 + rise;
    state.heatsinkC[i] = target + (state.heatsinkC[i]! - target) * keep;
    const over = state.heatsinkC[i]! - DERATE_FROM_C;
    // A healthy unit gives half as much again for a while before its voltage gives way.
    const allowed = over > 0 ? Math.max(0.2, 1 - DERATE_PER_K * over) : 1.5;
    state.ceilingW[i] = allowed * state.ratedW[i]!;
  }
}

function wrapped(counterWh: number, wrapWh: number): number {
  return wrapWh > 0 && counterWh >= wrapWh ? counterWh - wrapWh : counterWh;
}

function runCounters(state: SiteState, dtS: number): void {
  const hours = dtS / 3600;
  const { instant, plan } = state;
  for (let i = 0; i < state.ratedW.length; i++) {
    state.outputWh[i] = wrapped(state.outputWh[i]! + Math.max(0, instant.activeW[i]!) * hours, plan.counterWrapWh);
    state.importWh[i] = wrapped(state.importWh[i]! + Math.max(0, instant.gridW[i]!) * hours, plan.counterWrapWh);
    state.pvWh[i] = state.pvWh[i]! + instant.pvW[i]! * hours;
  }
  state.acPvWh += instant.acPvW * hours;
  for (let k = 0; k < state.bank.count; k++)
    state.cycleAh[k] = state.cycleAh[k]! + Math.max(0, state.bank.currentA[k]!) * hours;
}

/** Trips the output where the overload has lasted, or where the battery has run dry. */
function watchForTrip(state: SiteState, tMs: number, loadShare: number): void {
  const { trip, plan } = state;
  const outage = outageNear(state);
  if (outage === null || state.instant.isLost) return;
  if (bankCharge(state.bank) < 0.03) {
    trip.from = tMs;
    trip.to = outage.end - 500;
    return;
  }
  const mayTrip = plan.faults.some((fault) => fault.what === 'overload' && fault.trips);
  trip.overS = loadShare > TRIP_SHARE ? trip.overS + 1 : Math.max(0, trip.overS - 2);
  if (!mayTrip || trip.overS < TRIP_AFTER_S) return;
  trip.overS = 0;
  trip.count += 1;
  trip.from = tMs + 1000;
  trip.to = trip.count > MOST_RESTARTS ? outage.end - 500 : Math.min(outage.end - 500, trip.from + RESTART_MS);
}

/** Notes what one second on its own did to voltage, frequency and output. */
function noteTruth(state: SiteState, truth: OutageTruth, tMs: number): void {
  const { instant } = state;
  const until = tMs + 1000;
  if (instant.isLost) {
    truth.lostS += 1;
    if (Number.isNaN(truth.lostFrom)) truth.lostFrom = tMs;
    truth.lostTo = until;
    return;
  }
  const highestHz = state.plan.acPvW > 0 ? 52 : 51;
  truth.frequencyMinHz = Math.min(truth.frequencyMinHz, instant.frequencyHz);
  if (instant.frequencyHz < 49 || instant.frequencyHz > highestHz) {
    if (Number.isNaN(truth.frequencyFrom)) truth.frequencyFrom = tMs;
    truth.frequencyTo = until;
  }
  for (let i = 0; i < instant.voltageV.length; i++) {
    const voltageV = instant.voltageV[i]!;
    truth.voltageMinV = Math.min(truth.voltageMinV, voltageV);
    if (voltageV >= 207 && voltageV <= 253) continue;
    if (Number.isNaN(truth.voltageFrom)) truth.voltageFrom = tMs;
    truth.voltageTo = until;
  }
}

/** Looks at every second of a tick that the site spends on its own. */
function walkIsland(state: SiteState, tMs: number, dtS: number, fromS: number): void {
  const outage = outageNear(state);
  if (outage === null || outage.start >= tMs + dtS * 1000) return;
  const truth = state.truths[state.outagePlace]!;
  for (let s = 0; s < dtS; s++) {
    const secondMs = tMs + s * 1000;
    if (secondMs < outage.start || secondMs >= outage.end) continue;
    loadAtSecond(state, fromS + s);
    evaluate(state, secondMs, state.pointLoadW, state.pointLoadVar);
    noteTruth(state, truth, secondMs);
    let loadW = 0;
    for (let g = 0; g < state.groups.length; g++) loadW += state.pointLoadW[g]!;
    watchForTrip(state, secondMs, loadW / state.siteRatedW);
  }
}

/**
 * Moves the site on from tMs by one tick.
 *
 * @param fromS  second of the day at tMs; the day's loads must be filled
 */
export function moveOn(state: SiteState, tMs: number, dtS: number, fromS: number): void {
  const near = outageNear(state);
  if (near !== null && tMs >= near.end) {
    state.outagePlace += 1;
    Object.assign(state.trip, { from: Infinity, to: -Infinity, overS: 0, count: 0 });
    state.pvFactor = 1;
    state.acPvFactor = 1;
  }
  moveWeather(state, tMs, dtS);
  applyCondition(state, tMs);
  const meanLoadW = averageLoad(state, fromS, fromS + dtS);
  const outage = outageNear(state);
  const middleMs = tMs + 500 * dtS;
  if (outage !== null && middleMs >= outage.start && middleMs < outage.end) holdPvBack(state, dtS, meanLoadW);
  else commandBattery(state, tMs, dtS, meanLoadW);
  walkIsland(state, tMs, dtS, fromS);
  evaluate(state, middleMs, state.meanLoadW, state.meanLoadVar);
  stepBank(state.bank, busCurrentA(state), dtS);
  warmHeatsinks(state, dtS);
  runCounters(state, dtS);
}
