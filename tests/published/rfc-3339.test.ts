import { describe, expect, test } from 'vitest';
import { parseTime } from '../../ingest/vocabulary/time.ts';
import { createNdjsonDecoder } from '../../ingest/wire/ndjson.ts';
import { TimeBytes } from '../../ingest/wire/time-bytes.ts';

const PUBLISHED = [
  {
    source: 'RFC 3339, section 5.8, first example',
    text: '1985-04-12T23:20:50.52Z',
    ms: Date.UTC(1985, 3, 12, 23, 20, 50, 520),
  },
  {
    source: 'RFC 3339, section 5.8, second example: equivalent to 1996-12-20T00:39:57Z',
    text: '1996-12-19T16:39:57-08:00',
    ms: Date.UTC(1996, 11, 20, 0, 39, 57),
  },
  {
    source: 'RFC 3339, section 5.8, third example: the leap second at the end of 1990',
    text: '1990-12-31T23:59:60Z',
    ms: Date.UTC(1991, 0, 1),
  },
  {
    source: 'RFC 3339, section 5.8, fourth example: the same leap second in Pacific Standard Time',
    text: '1990-12-31T15:59:60-08:00',
    ms: Date.UTC(1991, 0, 1),
  },
  {
    source: 'RFC 3339, section 5.8, fifth example: noon in the Netherlands in 1937',
    text: '1937-01-01T12:00:27.87+00:20',
    ms: Date.UTC(1937, 0, 1, 11, 40, 27, 870),
  },
] as const;

describe('times on the wire', () => {
  test.each(PUBLISHED)('agree with $source', ({ text, ms }) => {
    expect(parseTime(text)).toBe(ms);
    const bytes = new TextEncoder().encode(`${text}"`);
    const times = new TimeBytes();
    // Twice: the second time the day is remembered.
    expect([times.read(bytes, 0, text.length), times.read(bytes, 0, text.length)]).toEqual([ms, ms]);
    const line = new TextEncoder().encode(`{"t":"${text}","site":"a","unit":"u1"}\n`);
    expect(createNdjsonDecoder().decode(line, 1).rows[1]).toBe(ms);
  });
});
