/** A talk with a device kept as JSON lines, and played back to whoever asks again: the same questions or others. */
import type { Fault } from '../line-meaning.ts';
import { quoteText, quoteValue } from '../quote-value.ts';
import { MOST_BITS, MOST_REGISTERS } from './block-plan.ts';
import type { ReadAnswer, RegisterRead, RegisterTable } from './dialogue.ts';
import { RegisterImage } from './register-image.ts';

const TABLES: readonly RegisterTable[] = ['holding', 'input', 'coil', 'discrete'];

export interface RecordedRead {
  /** Epoch ms when it was asked. */
  readonly t: number;
  /** Unit address of the device on its link. */
  readonly address: number;
  readonly read: RegisterRead;
  readonly answer: ReadAnswer;
}

/** One line of a recording, without its end. */
export function recordedLine({ t, address, read, answer }: RecordedRead): string {
  const { table, address: register, count } = read;
  const asked = { t, unit_address: address, table, address: register, count };
  return JSON.stringify(answer.ok ? { ...asked, words: [...answer.words] } : { ...asked, exception: answer.exception });
}

const isWhole = (value: unknown, least: number, most: number): value is number =>
  Number.isInteger(value) && Number(value) >= least && Number(value) <= most;

function answerOf(line: Readonly<Record<string, unknown>>, count: number): ReadAnswer | Fault {
  const { words, exception } = line;
  if (words === undefined) {
    if (exception === null || isWhole(exception, 1, 255)) return { ok: false, exception };
    return { what: 'it has neither words nor exception', remedy: 'keep the line as it was recorded' };
  }
  if (!Array.isArray(words) || words.length !== count || !words.every((word) => isWhole(word, 0, 0xffff)))
    return { what: `words is no list of ${count} registers`, remedy: 'give whole numbers from 0 to 65535' };
  return { ok: true, words: Uint16Array.from(words) };
}

function readLine(text: string): RecordedRead | Fault {
  let line: unknown;
  try {
    line = JSON.parse(text);
  } catch {
    return { what: `${quoteText(text)} is no JSON`, remedy: 'give one JSON object a line' };
  }
  const isObject = typeof line === 'object' && line !== null;
  const fields = (isObject ? line : {}) as Readonly<Record<string, unknown>>; // Any object is one of unknown values.
  const { t, unit_address: unit, table, address, count } = fields;
  const known = TABLES.find((each) => each === table);
  if (known === undefined)
    return { what: `table is ${quoteValue(table)}`, remedy: 'give holding, input, coil or discrete' };
  const most = known === 'coil' || known === 'discrete' ? MOST_BITS : MOST_REGISTERS;
  if (!isWhole(unit, 0, 255) || !isWhole(address, 0, 0xffff) || !isWhole(count, 1, most) || !Number.isSafeInteger(t))
    return {
      what: 't, unit_address, address or count is missing or out of range',
      remedy: 'keep the line as it was recorded',
    };
  const answer = answerOf(fields, count);
  if ('remedy' in answer) return answer;
  return { t: Number(t), address: unit, read: { table: known, address, count }, answer };
}

/** Reads a recording; lines that are none are left out and told with their number, from 1. */
export function parseRecording(text: string): {
  readonly reads: readonly RecordedRead[];
  readonly faults: readonly (Fault & { readonly line: number })[];
} {
  const reads: RecordedRead[] = [];
  const faults: (Fault & { readonly line: number })[] = [];
  for (const [k, line] of text.split(/\r?\n/).entries()) {
    if (line.trim() === '') continue;
    const read = readLine(line);
    if ('remedy' in read) faults.push({ ...read, line: k + 1 });
    else reads.push(read);
  }
  return { reads, faults };
}

const nameOf = ({ table, address, count }: RegisterRead): string => `${table} ${address} ${count}`;

/** Answers as one device of a recording did. */
export class RecordedDevice {
  readonly #exact = new Map<string, ReadAnswer[]>();
  readonly #image = new RegisterImage();
  readonly #missing = new Map<string, RegisterRead>();

  constructor(reads: readonly RecordedRead[], address: number) {
    for (const recorded of reads) {
      if (recorded.address !== address) continue;
      const name = nameOf(recorded.read);
      const answers = this.#exact.get(name) ?? [];
      this.#exact.set(name, [...answers, recorded.answer]);
      if (recorded.answer.ok) this.#image.put(recorded.read, recorded.answer.words);
    }
  }

  /** Reads that nothing in the recording can answer. */
  get missing(): readonly RegisterRead[] {
    return [...this.#missing.values()];
  }

  /**
   * The same question is answered as it was, time after time, the last answer again and again; another one from the
   * registers that the recording holds. Where it does not hold them the answer is that of a device without them.
   */
  answer(read: RegisterRead): ReadAnswer {
    const exact = this.#exact.get(nameOf(read));
    if (exact !== undefined) return exact.length > 1 ? exact.shift()! : exact[0]!;
    const words = this.#image.at(read);
    if (words !== null) return { ok: true, words };
    if (read.count === 1) this.#missing.set(nameOf(read), read);
    return { ok: false, exception: 2 };
  }
}
