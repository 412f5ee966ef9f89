import { describe, expect, test } from 'vitest';
import { parseTime } from '../../../ingest/vocabulary/time.ts';
import { TimeBytes } from '../../../ingest/wire/time-bytes.ts';
import { bytesOf } from './describe-batch.ts';

const FORMS = [
  'T06:00:00Z',
  'T23:59:59.999Z',
  'T23:59:60Z',
  'T24:00:00Z',
  'T06:60:00Z',
  'T06:00:61Z',
  'T06:00:00.5Z',
  'T06:00:00.099Z',
  'T06:00:00.12Z',
  'T06:00:00.1234Z',
  'T06:00:00,123Z',
  'T06:00:00.1 3Z',
  'T06-00:00Z',
  'T06:00-00Z',
  't06:00:00Z',
  ' 06:00:00Z',
  'X06:00:00Z',
  'T06:00:00z',
  'T06:00:00',
  'T6:00:00Z',
  'T0:000:00Z',
  'T06:00:00+01:00',
  'T06:00:00.123+01:00',
  'T06:00:00+24:00',
  '',
];

describe('TimeBytes', () => {
  test.each(FORMS)('says of a day and %j what parseTime says, whether the day is remembered or not', (form) => {
    for (const day of ['2026-03-02', '0001-01-01', '9999-12-31', '2026-02-30', '1969-12-31']) {
      const text = `${day}${form}`;
      const bytes = bytesOf(`"${text}"`);
      const expected = parseTime(text) ?? Number.NaN;
      const fresh = new TimeBytes();
      expect(fresh.read(bytes, 1, 1 + text.length)).toBe(expected);
      const used = new TimeBytes();
      used.read(bytesOf(`${day}T12:00:00Z`), 0, 20);
      expect(used.read(bytes, 1, 1 + text.length)).toBe(expected);
    }
  });
});
