/** One interruption of supply. */
export interface Interruption {
  /** Customers (sites, outputs) without supply, at least 0. */
  readonly customers: number;
  /** How long, minutes, at least 0. */
  readonly durationMin: number;
}

export interface ReliabilityIndices {
  /** Sustained interruptions a customer. */
  readonly saifi: number;
  /** Minutes of sustained interruption a customer. */
  readonly saidiMin: number;
  /** Minutes a sustained interruption; null where there was none. */
  readonly caidiMin: number | null;
  /** Share of the time with supply, 0…1. */
  readonly asai: number;
  /** Momentary interruptions a customer. */
  readonly maifi: number;
}

/** Longer than this is sustained, else momentary. From memory, unverified. */
export const SUSTAINED_OVER_MIN = 5;

/**
 * The distribution reliability indices of a period.
 *
 * @param interruptions  customers and minutes of each; each counts as one event, so a burst is joined by the caller
 * @param served         customers served in all, above 0
 * @param periodH        length of the period, h, above 0; a year of 8760 h where absent
 * @returns SAIFI, SAIDI (min), CAIDI (min), ASAI, MAIFI
 * @throws RangeError  if a count or a duration is negative or not finite, or served or periodH is not above 0
 * @see IEEE 1366, Guide for Electric Power Distribution Reliability Indices, clause 3
 */
export function reliabilityIndices(
  interruptions: readonly Interruption[],
  served: number,
  periodH = 8760,
): ReliabilityIndices {
  if (!(served > 0 && Number.isFinite(served)))
    throw new RangeError(`Cannot take reliability indices: ${served} customers served is not above 0`);
  if (!(periodH > 0 && Number.isFinite(periodH)))
    throw new RangeError(`Cannot take reliability indices: period ${periodH} h is not above 0`);
  let sustained = 0;
  let sustainedMin = 0;
  let momentary = 0;
  for (const { customers, durationMin } of interruptions) {
    if (!(customers >= 0 && durationMin >= 0 && Number.isFinite(customers * durationMin))) {
      throw new RangeError(
        `Cannot take reliability indices: ${customers} customers for ${durationMin} min is not at least 0`,
      );
    }
    if (durationMin > SUSTAINED_OVER_MIN) {
      sustained += customers;
      sustainedMin += customers * durationMin;
    } else momentary += customers;
  }
  const saidiMin = sustainedMin / served;
  return {
    saifi: sustained / served,
    saidiMin,
    caidiMin: sustained === 0 ? null : sustainedMin / sustained,
    asai: 1 - saidiMin / 60 / periodH,
    maifi: momentary / served,
  };
}
