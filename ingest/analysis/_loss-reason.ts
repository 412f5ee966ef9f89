/** What took the output away, as far as the readings just before show. */
import type { OutputLoss } from './_island-output.ts';

export const LOSS_REASONS = ['charge', 'overload', 'temperature', 'fault', 'unknown'] as const;
export type LossReason = (typeof LOSS_REASONS)[number];

/** A gauge is this far off before it resyncs; points of charge above the cutoff. Our own choice. */
const CHARGE_MARGIN_PCT = 2;
/** Without a cutoff or a reserve to compare with. Common practice. */
const CUTOFF_PCT = 10;
/** 2.9 V a cell of lithium iron phosphate under load: the steep end of its curve. Common practice. */
const EMPTY_DC = 0.9;
/** Of the rating. */
const OVERLOAD = 1;
/** Heatsinks of power electronics shut down at 75 to 95 °C. Common practice. */
const HOT_C = 75;
const SAYS = {
  charge: /(low|under|empty).*(soc|charge|batt)|(batt|soc).*(low|under|empty)|dischar/i,
  overload: /over.?(load|current|power)|short/i,
  temperature: /temp|heat|hot\b|fan/i,
} as const;

export interface LossContext {
  /** Highest cutoff that a unit was set to, %; null where none was sent. */
  readonly cutoffPct: number | null;
  readonly reservePct: number | null;
  /** Names of the equipment's alarms about the time. */
  readonly alarms: readonly string[];
}

function isEmpty(loss: OutputLoss, { cutoffPct, reservePct }: LossContext): boolean {
  if (loss.socPct !== null && loss.socPct <= (cutoffPct ?? reservePct ?? CUTOFF_PCT) + CHARGE_MARGIN_PCT) return true;
  return loss.dcV !== null && loss.nominalDcV !== null && loss.dcV > 0 && loss.dcV < EMPTY_DC * loss.nominalDcV;
}

/** Reasons that the readings bear out, strongest first; `unknown` alone where they bear out none. */
export function lossReasons(loss: OutputLoss, context: LossContext): LossReason[] {
  const says = (reason: keyof typeof SAYS): boolean => context.alarms.some((alarm) => SAYS[reason].test(alarm));
  const isOver = loss.peakShare !== null && loss.peakShare > OVERLOAD;
  const isHot = loss.temperatureMaxC !== null && loss.temperatureMaxC >= HOT_C;
  const isFault = loss.faultCodes.length > 0 || loss.modes.some((mode) => mode.endsWith(' fault'));
  // Charge first: a set that runs dry under load was not lost for the load.
  const found: LossReason[] = [
    ...(isEmpty(loss, context) ? (['charge'] as const) : []),
    ...(isOver ? (['overload'] as const) : []),
    ...(isHot ? (['temperature'] as const) : []),
  ];
  for (const reason of ['charge', 'overload', 'temperature'] as const)
    if (says(reason) && !found.includes(reason)) found.push(reason);
  if (isFault) found.push('fault');
  return found.length === 0 ? ['unknown'] : found;
}
