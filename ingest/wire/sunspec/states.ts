/**
 * States of SunSpec as words of ours. `null`: the state says nothing that has a word. `undefined`: no such state.
 *
 * @see github.com/sunspec/models: model 101 St, 701 InvSt and DERMode, 802 ChaSt and State
 */
import type { MODES, PACK_STATE_WORDS } from '../../vocabulary/quantities.ts';

export type ModeWord = (typeof MODES)[number];
export type PackStateWord = (typeof PACK_STATE_WORDS)[number];

/** A state that a producing inverter has on the grid and off it: it decides nothing between the two. */
const PRODUCING = null;

const INVERTER_ST: Readonly<Record<number, ModeWord | null>> = {
  1: 'off',
  2: 'off', // SLEEPING
  3: 'starting',
  4: PRODUCING, // MPPT
  5: PRODUCING, // THROTTLED
  6: null, // SHUTTING_DOWN
  7: 'fault',
  8: 'standby',
};
const DER_INV_ST: Readonly<Record<number, ModeWord | null>> = {
  0: 'off',
  1: 'off', // SLEEPING
  2: 'starting',
  3: PRODUCING, // RUNNING
  4: PRODUCING, // THROTTLED
  5: null, // SHUTTING_DOWN
  6: 'fault',
  7: 'standby',
};
const RUNNING = 3;
const THROTTLED = 4;
const CHA_ST: Readonly<Record<number, PackStateWord | null>> = {
  1: 'off',
  2: 'idle', // EMPTY
  3: 'discharging',
  4: 'charging',
  5: 'idle', // FULL
  6: 'idle', // HOLDING
  7: null, // TESTING
};
const STATE_FAULT = 99;
const GRID_FOLLOWING = 1;
const GRID_FORMING = 2;

/** Models 101 to 103 and 111 to 113. */
export function modeOfInverter(st: number): ModeWord | null | undefined {
  return INVERTER_ST[st];
}

/** Bits 0 and 1 of 701 DERMode; both or neither: cannot tell. */
function modeOfDerMode(derMode: number | null): ModeWord | null {
  if (derMode === null) return null;
  const isForming = (derMode & GRID_FORMING) !== 0;
  const isFollowing = (derMode & GRID_FOLLOWING) !== 0;
  if (isForming === isFollowing) return null;
  return isForming ? 'backup' : 'grid';
}

/** Model 701; each null where the device does not implement it. `st` is 0 off, 1 on. */
export function modeOfDer(state: {
  readonly invSt: number | null;
  readonly st: number | null;
  readonly derMode: number | null;
}): ModeWord | null | undefined {
  const { invSt, st, derMode } = state;
  if (invSt === null) return st === 0 ? 'off' : modeOfDerMode(derMode);
  if (invSt === RUNNING || invSt === THROTTLED) return modeOfDerMode(derMode);
  return DER_INV_ST[invSt];
}

/** Model 802: a fault in State stands above whatever ChaSt says. */
export function packStateOf(chaSt: number | null, state: number | null): PackStateWord | null | undefined {
  if (state === STATE_FAULT) return 'fault';
  return chaSt === null ? null : CHA_ST[chaSt];
}
