import type { RegisterRead } from '../../wire/modbus/dialogue.ts';

/** After so long no device answers a request any more. */
export const LATEST_ANSWER_MS = 5000;
const MOST_REGISTERS = 125;
const MOST_BITS = 2000;
const LAST_ADDRESS = 65_535;

export const isBits = ({ table }: RegisterRead): boolean => table === 'coil' || table === 'discrete';

/** Data bytes of the answer to `read`. */
export function answerBytes(read: RegisterRead): number {
  return isBits(read) ? Math.ceil(read.count / 8) : read.count * 2;
}

const FUNCTION_CODES = { coil: 1, discrete: 2, holding: 3, input: 4 } as const;

/** What tells two answers of one device apart on a line without transaction numbers. */
const looks = (read: RegisterRead): string => `${FUNCTION_CODES[read.table]}/${answerBytes(read)}`;

/**
 * Requests whose answers may still come, on lines without transaction numbers. The next request to the same device is
 * made to look different from all of them: it asks for a register more than is needed. So a late answer has the wrong
 * length for it, and can't pass for its own.
 */
export class LateAnswers {
  readonly #byUnit = new Map<number, { readonly looks: string; readonly atMs: number }[]>();

  /** No answer came to this request. */
  add(unit: number, read: RegisterRead, atMs: number): void {
    const late = this.#of(unit, atMs);
    late.push({ looks: looks(read), atMs });
    this.#byUnit.set(unit, late);
  }

  mayCome(unit: number, nowMs: number): boolean {
    return this.#of(unit, nowMs).length > 0;
  }

  /** Devices answer in order: what answered a request that can't be confused has answered all before it. */
  settle(unit: number): void {
    this.#byUnit.delete(unit);
  }

  /**
   * What to send in place of `read`: the same table and address, `read.count` or some more.
   *
   * @returns null where nothing that could be sent looks different
   */
  disguise(unit: number, read: RegisterRead, nowMs: number): RegisterRead | null {
    const taken = new Set(this.#of(unit, nowMs).map((late) => late.looks));
    const step = isBits(read) ? 8 : 1;
    const most = Math.min(isBits(read) ? MOST_BITS : MOST_REGISTERS, LAST_ADDRESS + 1 - read.address);
    for (let count = read.count; count <= most; count += step) {
      const longer = { ...read, count };
      if (!taken.has(looks(longer))) return longer;
    }
    return null;
  }

  #of(unit: number, nowMs: number): { readonly looks: string; readonly atMs: number }[] {
    return (this.#byUnit.get(unit) ?? []).filter(({ atMs }) => nowMs - atMs < LATEST_ANSWER_MS);
  }
}
