import { describe, expect, test } from 'vitest';
import { rawNumber, rawText } from '../../ingest/wire/modbus/raw-value.ts';

const HIGH = { words: 'high_first', bytes: 'high_first' } as const;

/** Register contents of published examples, as they come out of an answer. */
const VALUES = [
  {
    source: 'Modbus application protocol V1.1b3, 6.3: registers 108 to 110 hold 555, 0, 100',
    type: 'uint16',
    words: [0x022b],
    value: 555,
  },
  {
    source: 'Modbus application protocol V1.1b3, 6.3: registers 108 to 110 hold 555, 0, 100',
    type: 'uint16',
    words: [0x0064],
    value: 100,
  },
  {
    source: 'Modbus application protocol V1.1b3, 6.4: input register 9 holds 10',
    type: 'uint16',
    words: [0x000a],
    value: 10,
  },
  { source: 'IEEE 754-2019, binary32: 1.0 is 3F800000', type: 'float32', words: [0x3f80, 0x0000], value: 1 },
  {
    source: 'IEEE 754-2019, binary32: −118.625 is C2ED4000',
    type: 'float32',
    words: [0xc2ed, 0x4000],
    value: -118.625,
  },
  {
    source: 'IEEE 754-2019, binary64: 1/3 rounded is 3FD5555555555555',
    type: 'float64',
    words: [0x3fd5, 0x5555, 0x5555, 0x5555],
    value: 1 / 3,
  },
  { source: 'derived: two’s complement of 16 bits', type: 'int16', words: [0x8000], value: -32_768 },
  { source: 'derived: two’s complement of 32 bits', type: 'int32', words: [0x8000, 0x0000], value: -2_147_483_648 },
] as const;

describe('rawNumber', () => {
  test.each(VALUES)('$type $words is $value ($source)', ({ type, words, value }) => {
    expect(rawNumber(type, Uint16Array.from(words), HIGH)).toBe(value);
  });
  test('bits of Modbus application protocol V1.1b3, 6.1: outputs 27 to 20 are CD, 1100 1101', () => {
    const bits = Array.from({ length: 8 }, (_, k) => rawNumber('uint16', Uint16Array.of(0xcd), HIGH, [k, k]));
    expect(bits).toEqual([1, 0, 1, 1, 0, 0, 1, 1]);
  });
});

describe('rawText', () => {
  test('two characters a register, the first in the high byte (ASCII)', () => {
    expect(rawText(Uint16Array.of(0x4b69, 0x6c74, 0x6572), 'high_first')).toBe('Kilter');
    expect(rawText(Uint16Array.of(0x694b, 0x746c, 0x7265), 'low_first')).toBe('Kilter');
  });
});
