import type { CurrentSign } from './device-config.ts';
import type { Proposal } from './propose-word-order.ts';

/** What one poll tells about a battery and what it feeds; null where it does not tell. */
export interface BatterySample {
  /** As the device signs it. */
  readonly currentA: number | null;
  readonly state: string | null;
  readonly socPct: number | null;
  readonly mode: string | null;
  readonly outputPowerW: number | null;
  readonly pvPowerW: number | null;
}

/** Below this a current may be an offset of its sensor: our own choice. */
const LEAST_A = 0.5;
/** A step of the gauge that is no rounding of one decimal. */
const LEAST_SOC_STEP_PCT = 0.15;
const LEAST_LOAD_W = 100;

const signIf = (isDischarging: boolean, currentA: number): CurrentSign =>
  isDischarging === currentA > 0 ? 'discharge_positive' : 'charge_positive';

interface Evidence {
  readonly sign: CurrentSign;
  readonly because: string;
}

function fromState({ state }: BatterySample, currentA: number): Evidence | null {
  if (state !== 'charging' && state !== 'discharging') return null;
  return { sign: signIf(state === 'discharging', currentA), because: `it says that it is ${state} at ${currentA} A` };
}

/** On its own, without PV, whatever the output delivers comes from the battery. */
function fromPower({ mode, outputPowerW, pvPowerW }: BatterySample, currentA: number): Evidence | null {
  if (mode !== 'backup' || outputPowerW === null || outputPowerW < LEAST_LOAD_W) return null;
  if (pvPowerW === null || pvPowerW > outputPowerW / 10) return null;
  const because = `in backup the output takes ${outputPowerW} W at ${currentA} A`;
  return { sign: signIf(true, currentA), because };
}

function fromCharge(samples: readonly BatterySample[]): Evidence | null {
  const currents = samples.map(({ currentA }) => currentA).filter((each) => each !== null);
  const charges = samples.map(({ socPct }) => socPct).filter((each) => each !== null);
  const [first = 0] = currents;
  const isSteady = currents.every((each) => Math.abs(each) >= LEAST_A && each > 0 === first > 0);
  const changePct = (charges.at(-1) ?? 0) - (charges[0] ?? 0);
  if (currents.length < 2 || charges.length < 2 || !isSteady || Math.abs(changePct) < LEAST_SOC_STEP_PCT) return null;
  const because = `the charge went from ${charges[0]} % to ${charges.at(-1)} % at ${first} A`;
  return { sign: signIf(changePct < 0, first), because };
}

/** Proposes what a positive battery current means, from what was read of the same battery once or several times. */
export function proposeCurrentSign(samples: readonly BatterySample[]): Proposal<CurrentSign> {
  const evidence: Evidence[] = [];
  const take = (each: Evidence | null): void => {
    if (each !== null) evidence.push(each);
  };
  let greatestA = 0;
  for (const sample of samples) {
    const { currentA } = sample;
    if (currentA === null) continue;
    greatestA = Math.max(greatestA, Math.abs(currentA));
    if (Math.abs(currentA) < LEAST_A) continue;
    take(fromState(sample, currentA));
    take(fromPower(sample, currentA));
  }
  take(fromCharge(samples));
  const [first] = evidence;
  if (samples.every(({ currentA }) => currentA === null)) return { says: null, because: 'no battery current was read' };
  if (first === undefined) {
    const because =
      greatestA < LEAST_A
        ? `no more than ${greatestA} A flowed: try again while it charges or discharges`
        : 'it did not say whether it is charging, and its charge did not change: read it twice, some minutes apart';
    return { says: null, because };
  }
  const against = evidence.find(({ sign }) => sign !== first.sign);
  if (against !== undefined) return { says: null, because: `${first.because}, but ${against.because}` };
  return { says: first.sign, because: first.because };
}
