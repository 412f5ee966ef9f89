import type { Fault } from '../line-meaning.ts';

/** Different things that are said of one device; beyond it they are only counted. */
const MOST_NAMED = 100;

/** Counts the values of a poll that were not taken, and says each kind of mistake once. */
export class FaultMemory {
  readonly #named = new Set<string>();
  #notes: Fault[] = [];
  #refused = 0;

  /** Starts the count of a poll. */
  begin(notes: readonly Fault[]): void {
    this.#refused = 0;
    this.#notes = [];
    this.note(notes);
  }

  /** Something to be said that is no refused value. */
  note(notes: readonly Fault[]): void {
    for (const note of notes) this.#say(note);
  }

  /** @param why  'its raw value 9 is in no map' */
  add(name: string, why: string, remedy = 'correct the profile, or the device; it is read as absent'): void {
    this.#refused += 1;
    this.#say({ what: `${name} is not taken: ${why}`, remedy });
  }

  finish(): { readonly refused: number; readonly notes: readonly Fault[] } {
    return { refused: this.#refused, notes: this.#notes };
  }

  #say(note: Fault): void {
    if (this.#named.has(note.what) || this.#named.size >= MOST_NAMED) return;
    this.#named.add(note.what);
    this.#notes.push(note);
  }
}
