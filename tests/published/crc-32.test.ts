import { describe, expect, test } from 'vitest';
import { crc32 } from '../../ingest/sources/courier/crc-32.ts';

const CASES = [
  {
    text: '123456789',
    crc: 0xcbf43926,
    source: 'CRC-32/ISO-HDLC, check value; the CRC of ITU-T V.42 and of gzip (RFC 1952, section 8)',
  },
  { text: '', crc: 0, source: 'derived: the register 0xffffffff, complemented, over no bytes' },
  {
    text: 'The quick brown fox jumps over the lazy dog',
    crc: 0x414fa339,
    source: 'from memory: widely quoted value of the pangram; agrees with gzip -l -v',
  },
] as const;

describe('CRC-32', () => {
  test.each(CASES)('of "$text" is $crc ($source)', ({ text, crc }) => {
    expect(crc32(new TextEncoder().encode(text))).toBe(crc);
  });
});
