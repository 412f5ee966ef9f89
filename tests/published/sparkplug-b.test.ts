import { describe, expect, test } from 'vitest';
import { decodePayload } from '../../ingest/wire/sparkplug/payload.ts';

const PUBLISHED = [
  {
    source:
      'Eclipse Sparkplug 3.0, chapter 6, the NDEATH example (values), encoded by the proto2 field numbers given there',
    hex: '08 EA F2 F5 A8 A0 2B 12 12 0A 05 62 64 53 65 71 18 EA F2 F5 A8 A0 2B 20 08 58 00',
    payload: {
      timestamp: 1486144502122,
      seq: null,
      metrics: [
        {
          name: 'bdSeq',
          alias: null,
          timestamp: 1486144502122,
          datatype: 8,
          isNull: false,
          raw: { form: 'long', value: 0n },
        },
      ],
    },
  },
] as const;

describe('decodePayload', () => {
  test.each(PUBLISHED)('agrees with $source', ({ hex, payload }) => {
    const bytes = Uint8Array.from(hex.split(' '), (byte) => Number.parseInt(byte, 16));
    expect(decodePayload(bytes)).toEqual(payload);
  });
});
