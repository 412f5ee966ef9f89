/**
 * Finds the chain of models in a device: "SunS", then id and length of each model, until the id 0xFFFF.
 *
 * @see SunSpec Device Information Model Specification: base addresses 40000, 50000 and 0
 */
import type { Dialogue, ReadAnswer, RegisterRead } from '../modbus/dialogue.ts';
import { isRefusal, isSilence } from '../modbus/register-reader.ts';
import { HEADER } from './models.ts';

const STANDARD_BASES = [40_000, 50_000, 0] as const;
/** "SunS" in ASCII. */
const MARK = [0x5375, 0x6e53] as const;
const END_MODEL = 0xffff;
const ADDRESSES = 65_536;
/** Far more than any device has: it bounds the walk through a device that answers nonsense. */
const MOST_MODELS = 100;

export interface ChainModel {
  readonly model: number;
  readonly address: number;
  readonly length: number;
}

export type Chain =
  | { readonly state: 'found'; readonly base: number; readonly models: readonly ChainModel[]; readonly end: ChainEnd }
  | { readonly state: 'silent' }
  /** It answers, and has no mark at any base. */
  | { readonly state: 'none'; readonly bases: readonly number[] };

/** How the walk ended: at the end model, at an address the device does not have, at one that never answers, or cut off. */
export type ChainEnd = 'end model' | 'refused' | 'unanswered' | 'too long';

const heading = (address: number): RegisterRead => ({ table: 'holding', address, count: 2 });

/** Acknowledged or busy (exceptions 5 and 6): it will answer later. */
function isBusy(answer: ReadAnswer): boolean {
  return !answer.ok && (answer.exception === 5 || answer.exception === 6);
}

function pairOf(answer: ReadAnswer): readonly [number, number] | null {
  return answer.ok && answer.words.length === 2 ? [answer.words[0]!, answer.words[1]!] : null;
}

/**
 * Discovery of one device. It is kept between attempts: each ends at the first silence, and the next one begins
 * after the place that was silent, so that an address to which the device never answers hides nothing else.
 */
export class Discovery {
  readonly #bases: readonly number[];
  #first = 0;
  #silentHeading = -1;

  /** @param given  bases to be tried before those of the standard */
  constructor(given: readonly number[]) {
    this.#bases = [...new Set([...given, ...STANDARD_BASES])];
  }

  /** So many attempts reach every base. */
  get attempts(): number {
    return this.#bases.length;
  }

  *find(): Dialogue<Chain> {
    const count = this.#bases.length;
    for (let k = 0; k < count; k += 1) {
      const at = (this.#first + k) % count;
      const base = this.#bases[at]!;
      if (base + MARK.length > ADDRESSES) continue;
      const answer = yield heading(base);
      if (isSilence(answer, heading(base)) || isBusy(answer)) {
        this.#first = (at + 1) % count;
        return { state: 'silent' };
      }
      const pair = pairOf(answer);
      if (pair?.[0] !== MARK[0] || pair[1] !== MARK[1]) continue;
      this.#first = at;
      return yield* this.#walk(base);
    }
    return { state: 'none', bases: this.#bases };
  }

  *#walk(base: number): Dialogue<Chain> {
    const models: ChainModel[] = [];
    let address = base + MARK.length;
    const found = (end: ChainEnd): Chain => ({ state: 'found', base, models, end });
    while (models.length < MOST_MODELS) {
      if (address + HEADER > ADDRESSES) return found('refused');
      const answer = yield heading(address);
      const pair = pairOf(answer);
      if (pair === null) {
        if (isRefusal(answer)) return found('refused');
        // Devices without an end model may just not answer there: twice in a row is taken for the end.
        if (this.#silentHeading === address) return found('unanswered');
        this.#silentHeading = address;
        return { state: 'silent' };
      }
      const [model, length] = pair;
      // 0 is no model: registers that nobody filled read as 0.
      if (model === END_MODEL || model === 0) return found('end model');
      models.push({ model, address, length });
      address += HEADER + length;
    }
    return found('too long');
  }
}
