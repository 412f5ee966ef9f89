/** Registers as typed values: the types of a register profile. */

export const NUMBER_TYPES = ['int16', 'uint16', 'int32', 'uint32', 'int64', 'uint64', 'float32', 'float64'] as const;
export type NumberType = (typeof NUMBER_TYPES)[number];
export const ORDERS = ['high_first', 'low_first'] as const;
export type Order = (typeof ORDERS)[number];

/** A text of n registers, two characters each. */
const STRING_FORM = /^string\((\d{1,3})\)$/;
const REGISTERS: Readonly<Record<NumberType, number>> = {
  int16: 1,
  uint16: 1,
  int32: 2,
  uint32: 2,
  int64: 4,
  uint64: 4,
  float32: 2,
  float64: 4,
};

export type RawType =
  | { readonly number: NumberType; readonly registers: number }
  | { readonly number: null; readonly registers: number };

/** The type of that name, or null: `uint32`, `string(8)`. */
export function rawTypeOf(name: string): RawType | null {
  const number = NUMBER_TYPES.find((type) => type === name);
  if (number !== undefined) return { number, registers: REGISTERS[number] };
  const registers = Number(STRING_FORM.exec(name)?.[1] ?? 0);
  return registers >= 1 && registers <= 125 ? { number: null, registers } : null;
}

export interface WordOrders {
  /** Of a value of several registers: whether its most significant register comes first. */
  readonly words: Order;
  /** Whether the most significant byte of a register comes first, as the standard has it. */
  readonly bytes: Order;
}

/** The bytes of a value, most significant first. */
function bytesOf(words: Uint16Array, { words: order, bytes }: WordOrders): DataView {
  const view = new DataView(new ArrayBuffer(words.length * 2));
  for (let k = 0; k < words.length; k += 1) {
    const at = order === 'high_first' ? k : words.length - 1 - k;
    view.setUint16(2 * k, words[at]!, bytes === 'low_first');
  }
  return view;
}

/**
 * The number that stands in registers.
 *
 * 64-bit integers beyond 2^53 come rounded: whoever stores them refuses them for their size.
 *
 * @param bits  first and last bit, 0 least significant: their value as an unsigned number, in place of the whole
 * @returns NaN or ±Infinity where a float says so
 */
export function rawNumber(
  type: NumberType,
  words: Uint16Array,
  orders: WordOrders,
  bits?: readonly [number, number] | undefined,
): number {
  const view = bytesOf(words, orders);
  if (bits !== undefined) {
    let pattern = 0n;
    for (let k = 0; k < words.length; k += 1) pattern = (pattern << 16n) | BigInt(view.getUint16(2 * k));
    const [first, last] = bits;
    return Number((pattern >> BigInt(first)) & ((1n << BigInt(last - first + 1)) - 1n));
  }
  switch (type) {
    case 'int16':
      return view.getInt16(0);
    case 'uint16':
      return view.getUint16(0);
    case 'int32':
      return view.getInt32(0);
    case 'uint32':
      return view.getUint32(0);
    case 'int64':
      return Number(view.getBigInt64(0));
    case 'uint64':
      return Number(view.getBigUint64(0));
    case 'float32':
      return view.getFloat32(0);
    case 'float64':
      return view.getFloat64(0);
  }
}

/** The text that stands in registers up to the first zero byte, without blanks around it; the order of words is that of the text. */
export function rawText(words: Uint16Array, bytes: Order): string {
  const view = bytesOf(words, { words: 'high_first', bytes });
  let text = '';
  for (let k = 0; k < view.byteLength; k += 1) {
    const byte = view.getUint8(k);
    if (byte === 0) break;
    // Control characters would reach a terminal; beyond ASCII devices disagree on what a byte means.
    text += byte >= 32 && byte < 127 ? String.fromCharCode(byte) : '?';
  }
  return text.trim();
}

/** value × factor, by division where the factor is one by a whole number: 235 × 0.1 is 23.5, not 23.500000000000004. */
export function scaleBy(value: number, factor: number): number {
  const inverse = Math.round(1 / factor);
  const isOneBy = Math.abs(factor) < 1 && Math.abs(inverse * factor - 1) < 1e-12;
  return (isOneBy ? value / inverse : value * factor) + 0;
}

/** value × 10^exponent, exact where the result is a short decimal. */
export function scaleByTen(value: number, exponent: number): number {
  return exponent < 0 ? value / 10 ** -exponent : value * 10 ** exponent;
}
