/** The sequence numbers of one node: what was lost on the way, with room for messages that overtook one another. */

const ROUND = 256;
/** Numbers that are waited for: a message that is later than this is lost. */
const WINDOW = 32;
/** A step forward of more than half a round is a step back: the message was late or came twice. */
const HALF = ROUND / 2;

/** @see Sparkplug 3.0, 6.4.24: every message of a node adds 1 to seq, 255 is followed by 0 */
export class SeqWindow {
  /** Counts on over the rounds; null before a birth. */
  #newest: number | null = null;
  readonly #missing = new Set<number>();
  #lost = 0;

  /** A birth of the node: its number is the start, whatever it is; what is missing of the round before is lost. */
  begin(seq: number | null): void {
    this.#lost += this.#missing.size;
    this.#missing.clear();
    this.#newest = seq;
  }

  /**
   * Any later message of the node or its devices.
   *
   * @param isAgain  the broker has sent it before: it may be of any round, so that nothing is missing before it
   */
  see(seq: number, isAgain = false): void {
    const newest = this.#newest;
    if (newest === null) {
      this.#newest = seq;
      return;
    }
    const step = (((seq - newest) % ROUND) + ROUND) % ROUND;
    if (step === 0 || step > HALF || (isAgain && step > 1)) {
      this.#missing.delete(step > HALF ? newest + step - ROUND : newest + step);
      return;
    }
    for (let n = 1; n < step; n += 1) this.#missing.add(newest + n);
    this.#newest = newest + step;
    for (const one of this.#missing) {
      if (one >= this.#newest - WINDOW) continue;
      this.#missing.delete(one);
      this.#lost += 1;
    }
  }

  /** Messages that are waited for no longer. */
  get givenUp(): number {
    return this.#lost;
  }

  /** Messages that never came, and those that are still waited for. */
  get lost(): number {
    return this.#lost + this.#missing.size;
  }
}
