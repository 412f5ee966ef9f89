import type { Fault } from '../line-meaning.ts';
import { type Block, planBlocks, REGISTER_GAP, type Span, splitBlock } from './block-plan.ts';
import type { Dialogue, ReadAnswer, RegisterRead } from './dialogue.ts';
import { RegisterImage } from './register-image.ts';

/** Requests of one round beyond those that were planned: parts of refused ones; the rest is asked next time. */
const MOST_EXTRA_REQUESTS = 32;
/** So many rounds in a row without an answer, in which others were answered, are taken for a refusal. */
const MOST_STRIKES = 3;

/** Modbus application protocol V1.1b3, 7: the device has no such function, address, or count. */
const REFUSALS: ReadonlySet<number> = new Set([1, 2, 3]);
/** The gateway has no path to the device, or no answer from it: to us the device is silent. */
const GATEWAY_SILENCES: ReadonlySet<number> = new Set([10, 11]);

/** What came of reading everything once. */
export interface ReadRound {
  readonly image: RegisterImage;
  /** Groups of which something was not answered: their values are not to be used. */
  readonly brokenGroups: ReadonlySet<string>;
  readonly isAnswering: boolean;
  /** Whether everything that the device has was read. */
  readonly isWhole: boolean;
  /** What turned out not to be there, said once. */
  readonly notes: readonly Fault[];
}

interface Standing {
  readonly block: Block;
  strikes: number;
}

export function isSilence(answer: ReadAnswer, asked: RegisterRead): boolean {
  if (answer.ok) return answer.words.length !== asked.count;
  return answer.exception === null || GATEWAY_SILENCES.has(answer.exception);
}

export function isRefusal(answer: ReadAnswer): boolean {
  return !answer.ok && answer.exception !== null && REFUSALS.has(answer.exception);
}

/** Illegal data value: most often more registers than the device gives at once. */
function isTooLong(answer: ReadAnswer): boolean {
  return !answer.ok && answer.exception === 3;
}

/** "input registers 40 to 41", "coil 7". */
export function sayRegisters({ table, address, count }: RegisterRead): string {
  const noun = table === 'coil' ? 'coil' : table === 'discrete' ? 'discrete input' : `${table} register`;
  return count === 1 ? `${noun} ${address}` : `${noun}s ${address} to ${address + count - 1}`;
}

/**
 * Reads a fixed set of registers again and again, and remembers how the device wants to be asked: requests that it
 * refused stay split, registers that it does not have are left alone.
 *
 * The first silence ends a round, because each costs a whole time-out; what was silent is asked last in the next one,
 * so that one place that never answers hides nothing else.
 */
export class RegisterReader {
  #standing: Standing[];
  #unanswered: Span[] = [];
  readonly #named = new Set<string>();
  readonly #plan: readonly Block[];

  constructor(spans: readonly Span[], gap: number = REGISTER_GAP) {
    this.#plan = planBlocks(spans, gap);
    this.#standing = this.#plan.map((block) => ({ block, strikes: 0 }));
  }

  /** Forgets what the device refused: it may be another one by now. */
  reset(): void {
    this.#standing = this.#plan.map((block) => ({ block, strikes: 0 }));
    this.#unanswered = [];
  }

  /** Asks once more for what was given up because no answer ever came. */
  retry(): void {
    for (const span of this.#unanswered) this.#standing.push({ block: { ...span, spans: [span] }, strikes: 0 });
    this.#unanswered = [];
  }

  *read(): Dialogue<ReadRound> {
    const image = new RegisterImage();
    const brokenGroups = new Set<string>();
    const notes: Fault[] = [];
    const queue = [...this.#standing];
    const kept: Standing[] = [];
    const struck: Standing[] = [];
    let requests = this.#plan.length + MOST_EXTRA_REQUESTS;
    // With nothing left to ask, the last that was heard of the device are its refusals.
    let isAnswering = queue.length === 0;
    while (queue.length > 0 && requests > 0) {
      const asked = queue.shift()!;
      requests -= 1;
      const { block } = asked;
      const answer = yield { table: block.table, address: block.address, count: block.count };
      if (isRefusal(answer)) {
        isAnswering = true;
        queue.unshift(...this.#partsOf(splitBlock(block, isTooLong(answer)), block, notes, null));
        continue;
      }
      if (answer.ok && answer.words.length === block.count) {
        kept.push(asked);
        asked.strikes = 0;
        isAnswering = true;
        image.put(block, answer.words);
        continue;
      }
      brokenGroups.add(block.group);
      struck.push(asked);
      if (isSilence(answer, block)) break;
      isAnswering = true;
    }
    for (const { block } of queue) brokenGroups.add(block.group);
    // What gave no answer goes to the end, so that every place has its turn.
    this.#standing = [...kept, ...queue, ...struck];
    if (isAnswering) this.#strike(struck, notes);
    return { image, brokenGroups, isAnswering, isWhole: brokenGroups.size === 0, notes };
  }

  #strike(struck: readonly Standing[], notes: Fault[]): void {
    for (const one of struck) {
      one.strikes += 1;
      if (one.strikes < MOST_STRIKES) continue;
      const parts = this.#partsOf(splitBlock(one.block), one.block, notes, this.#unanswered);
      this.#standing = [...this.#standing.filter((each) => each !== one), ...parts];
    }
  }

  /** @param givenUp  where a span that has no parts is kept for another try; null where the device refused it */
  #partsOf(parts: readonly Block[], block: Block, notes: Fault[], givenUp: Span[] | null): Standing[] {
    if (parts.length === 0) {
      const span = block.spans[0]!;
      givenUp?.push(span);
      const name = sayRegisters(span);
      if (!this.#named.has(name)) notes.push(notThere(name, givenUp === null));
      this.#named.add(name);
    }
    // What follows a silence is asked last until it has answered.
    return parts.map((part) => ({ block: part, strikes: givenUp === null ? 0 : 1 }));
  }
}

function notThere(name: string, isRefused: boolean): Fault {
  const what = isRefused ? `the device has no ${name}` : `${name} brings no answer, though others do`;
  return { what, remedy: 'correct the address or its table, or take it out; it is read as absent' };
}
