/**
 * Times of the polls of one device, none twice. Where the clock is set back the polls go on at the same marks of the
 * cadence as an hour before: two of them at one millisecond would be one reading with two values.
 */

/** Two days at ten seconds; an hour at a quarter of a second. */
const MOST_KEPT = 16_384;

export class PollTimes {
  readonly #kept: number[] = [];
  #next = 0;
  #newest = Number.NEGATIVE_INFINITY;

  /** @returns the time, or the next millisecond that no poll has had */
  take(tMs: number): number {
    let own = tMs;
    // Only behind the newest can there have been another; forward is how it always is.
    if (own <= this.#newest) {
      const used = new Set(this.#kept);
      while (used.has(own)) own += 1;
    }
    this.#newest = Math.max(this.#newest, own);
    this.#kept[this.#next] = own;
    this.#next = (this.#next + 1) % MOST_KEPT;
    return own;
  }
}
