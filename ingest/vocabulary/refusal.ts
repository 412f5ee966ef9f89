/** A piece of input that was not taken, in words that a technician can act on. */
export interface Refusal {
  /** What is wrong, with the value: 'grid_frequency_hz is "fifty"'. */
  readonly what: string;
  /** Where it came from: 'march.csv, line 412, column 7'. */
  readonly where: string;
  /** What to do: 'give hertz as a number, for example 49.98'. */
  readonly remedy: string;
}

/** One line of text for a refusal: where, what, what to do. */
export function sayRefusal({ where, what, remedy }: Refusal): string {
  return `${where}: ${what}; ${remedy}`;
}

/** Somebody must act before we can go on. Thrown anywhere, caught once at the top, printed, exit code 1. */
export class NeedsOperator extends Error {
  override readonly name = 'NeedsOperator';
  readonly refusal: Refusal;
  constructor(refusal: Refusal, options?: { cause?: unknown }) {
    super(sayRefusal(refusal), options);
    this.refusal = refusal;
  }
}
