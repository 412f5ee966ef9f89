/** When a set charges its battery and when it gives from it: simple rules that fill it nearly every day. */
import { DAY_MS, HOUR_MS } from '../vocabulary/time.ts';
import { acceptableA, bankCharge, CHARGE_LIMIT_V, onlineAh, resyncGauges } from './battery.ts';
import { IDLE_DC_W } from './evaluate.ts';
import { LOCAL_AHEAD_MS } from './load.ts';
import type { SiteState } from './site-state.ts';

/** Charging and evening power, as shares of capacity (per hour) and of the rating. */
const GRID_CHARGE_C = 0.16;
const MOST_CHARGE_C = 0.3;
const EVENING_SHARE = 0.2;
const EVENING_FLOOR = 0.5;
/** Below this share of C a battery at the charge limit is full. */
const TAIL_C = 0.025;
const TRICKLE_C = 0.01;

function localHour(tMs: number): number {
  return ((tMs + LOCAL_AHEAD_MS) % DAY_MS) / HOUR_MS;
}

/** PV on the units' own inputs now, W. */
function pvAvailableW(state: SiteState): number {
  let peak = 0;
  for (let i = 0; i < state.pvPeakW.length; i++) peak += state.pvPeakW[i]!;
  return peak * state.weather.sunShare;
}

/** Charging power, W, that the rules want before the battery's own limit. */
function wantedChargeW(state: SiteState, tMs: number): number {
  const hour = localHour(tMs);
  const ah = onlineAh(state.bank);
  const isNight = hour >= 23 || hour < 6;
  const fromGridW = state.plan.duty === 'standby' || isNight ? GRID_CHARGE_C * ah * state.bank.busV : 0;
  return Math.min(Math.max(fromGridW, pvAvailableW(state)), MOST_CHARGE_C * ah * state.bank.busV);
}

/** Sets `dcCommandW` for a tick on the grid. @param meanLoadW load of the site over the tick */
export function commandBattery(state: SiteState, tMs: number, dtS: number, meanLoadW: number): void {
  const { bank, plan } = state;
  const hour = localHour(tMs);
  const charge = bankCharge(bank);
  const idleW = IDLE_DC_W * plan.units.length;
  if (charge < (plan.duty === 'standby' ? 0.965 : 0.93)) state.isFull = false;
  if (plan.duty === 'evening' && hour >= 16.5 && hour < 22 && charge > EVENING_FLOOR) {
    state.dcCommandW = Math.max(idleW, Math.min(0.9 * meanLoadW, EVENING_SHARE * state.siteRatedW));
    return;
  }
  if (state.isFull) {
    state.dcCommandW = idleW;
    return;
  }
  const wantedA = wantedChargeW(state, tMs) / bank.busV;
  const acceptedA = acceptableA(bank, dtS);
  if (acceptedA < wantedA && acceptedA < TAIL_C * onlineAh(bank)) {
    state.isFull = true;
    resyncGauges(bank);
  }
  const chargeA = Math.min(wantedA, acceptedA);
  state.dcCommandW = chargeA > 0 ? -chargeA * CHARGE_LIMIT_V : idleW;
}

/** Sets how much PV is let through for a tick on its own: what load and battery cannot take is held back. */
export function holdPvBack(state: SiteState, dtS: number, meanLoadW: number): void {
  const { bank } = state;
  // A bank that has been filled asks for a trickle only, until some of it has gone.
  const mostC = state.isFull ? TRICKLE_C : MOST_CHARGE_C;
  const acceptedW = Math.min(acceptableA(bank, dtS), mostC * onlineAh(bank)) * bank.busV;
  if (bankCharge(bank) < 0.93) state.isFull = false;
  const takenW = meanLoadW + acceptedW;
  const pvW = pvAvailableW(state);
  state.pvFactor = pvW > takenW ? takenW / pvW : 1;
  const acPvW = state.plan.acPvW * state.weather.sunShare;
  const target = acPvW > takenW ? takenW / acPvW : 1;
  // The frequency is moved over some tens of seconds.
  const keep = Math.exp(-dtS / 30);
  const moved = target + (state.acPvFactor - target) * keep;
  state.acPvFactor = moved > 0.99 ? 1 : moved;
}
