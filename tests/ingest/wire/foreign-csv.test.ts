import { describe, expect, test } from 'vitest';
import { parseColumnMap } from '../../../ingest/wire/column-map.ts';
import { findHeader } from '../../../ingest/wire/csv-header.ts';
import { createForeignCsvDecoder, type ForeignCsvDecoder } from '../../../ingest/wire/foreign-csv.ts';
import { type DescribedBatch, describeBatch } from './describe-batch.ts';

const MAP = `delimiter: ";"
decimal: ","
time: { column: "Zeit", format: "dd.MM.yyyy HH:mm:ss", zone: Europe/Berlin }
site: millpond
unit: { column: "Gerät", names: { "WR 1": u1, "WR 2": u2 } }
values:
  output_power_w: { column: "Leistung kW", factor: 1000, absent: ["---", -999] }
  mode: { column: Status, states: { NETZ: grid, INSEL: backup } }
`;
const HEADER = 'Zeit;Gerät;Leistung kW;Status';

function open(mapText: string, file: Uint8Array): { decoder: ForeignCsvDecoder; batch: DescribedBatch } {
  const { map, mistakes } = parseColumnMap(mapText, 'map.yaml');
  expect(mistakes).toEqual([]);
  const place = findHeader(file, map!.form, map!.skipLines)!;
  const decoder = createForeignCsvDecoder(map!, place.header);
  return { decoder, batch: describeBatch(decoder.decode(file.subarray(place.bodyOffset), place.bodyLine)) };
}
function decode(mapText: string, text: string, encoding: BufferEncoding = 'utf8'): DescribedBatch {
  return open(mapText, Buffer.from(text, encoding)).batch;
}

describe('createForeignCsvDecoder', () => {
  test('reads the example of the contract: names, factor, decimal comma, zone', () => {
    expect(
      decode(MAP, `${HEADER}\r\n02.03.2026 07:00:00;WR 1;1,215;NETZ\r\n02.07.2026 08:00:00;WR 2;---;INSEL\r\n`)
        .readings,
    ).toEqual([
      { source: 'millpond/unit/u1', t: '2026-03-02T06:00:00.000Z', values: { output_power_w: 1215, mode: 'grid' } },
      { source: 'millpond/unit/u2', t: '2026-07-02T06:00:00.000Z', values: { mode: 'backup' } },
    ]);
  });

  test('an empty cell and a sentinel, as text or as number, are absent', () => {
    const rows = ['', '---', '-999', '-999,0', ' ', '0'].map((cell) => `02.03.2026 07:00:00;WR 1;${cell};`).join('\n');
    expect(decode(MAP, `${HEADER}\n${rows}`).readings.map(({ values }) => values)).toEqual([
      {},
      {},
      {},
      {},
      {},
      { output_power_w: 0 },
    ]);
  });

  test('a state in no map is absent, and counted', () => {
    const { decoder, batch } = open(
      MAP,
      Buffer.from(`${HEADER}\n02.03.2026 07:00:00;WR 1;1;TEST\n02.03.2026 07:00:10;WR 1;1;TEST\n`),
    );
    expect(batch.readings.map(({ values }) => values)).toEqual([{ output_power_w: 1000 }, { output_power_w: 1000 }]);
    expect([...decoder.unknownStates]).toEqual([['mode "TEST"', 2]]);
  });

  test.each([
    ['a time of another form', '2026-03-02 07:00;WR 1;1;NETZ', 'the time is "2026-03-02 07:00"'],
    ['a day that does not exist', '31.02.2026 07:00:00;WR 1;1;NETZ', 'the time is "31.02.2026 07:00:00"'],
    ['a name that is not in the map', '02.03.2026 07:00:00;WR 3;1;NETZ', '"Gerät" is "WR 3"'],
    ['text for a number', '02.03.2026 07:00:00;WR 1;warm;NETZ', '"Leistung kW" is "warm"'],
    ['a point where a comma is the decimal sign', '02.03.2026 07:00:00;WR 1;1.215;NETZ', '"Leistung kW" is "1.215"'],
    ['a cell too few', '02.03.2026 07:00:00;WR 1;1', 'the row has 3 cells, the header 4'],
    [
      'an hour that spring left out',
      '29.03.2026 02:30:00;WR 1;1;NETZ',
      'the time "29.03.2026 02:30:00" does not exist in Europe/Berlin: the clocks went forward over it',
    ],
  ])('refuses %s', (_, row, what) => {
    const { refused, lines } = decode(MAP, `${HEADER}\n\n${row}\n`);
    expect([refused.map((each) => [each.line, each.what]), lines]).toEqual([[[3, what]], 1]);
  });

  test('thousands separators are taken where they stand between groups of three', () => {
    const map = `${MAP}thousands: "."\n`.replace('factor: 1000, ', '');
    const { readings, refused } = decode(
      map,
      `${HEADER}\n02.03.2026 07:00:00;WR 1;1.234.567,6;NETZ\n02.03.2026 07:00:00;WR 1;1.23;NETZ\n`,
    );
    expect(readings[0]?.values.output_power_w).toBe(1234568);
    expect(refused.length).toBe(1);
  });

  test.each(['latin1', 'utf16le', 'utf8'] as const)('reads a file in %s', (encoding) => {
    const label = { latin1: 'windows-1252', utf16le: 'utf-16le', utf8: 'utf-8' }[encoding];
    const mark = encoding === 'latin1' ? '' : '\ufeff';
    const { readings } = decode(
      `${MAP}encoding: ${label}\n`,
      `${mark}${HEADER}\r\n02.03.2026 07:00:00;WR 1;1,2;NETZ\r\n`,
      encoding,
    );
    expect(readings.map(({ values }) => values)).toEqual([{ output_power_w: 1200, mode: 'grid' }]);
  });

  test('a file in another encoding than the map says is refused by its header', () => {
    const { decoder } = open(MAP, Buffer.from(`${HEADER}\n`, 'latin1'));
    expect(decoder.refusals[0]?.what).toBe('the header has no column "Gerät"');
    expect(decoder.refusals[0]?.remedy).toContain('encoding');
  });

  test('passes over lines before the header and names the columns it leaves out', () => {
    const { decoder, batch } = open(
      `${MAP}skip_lines: 2\n`,
      Buffer.from(`Export "1\n\nZeit;Gerät;Leistung kW;Status;Rest\n02.03.2026 07:00:00;WR 1;1;NETZ;9\nx\n`),
    );
    expect(decoder.unmapped).toEqual(['Rest']);
    expect(batch.readings.length).toBe(1);
    expect(batch.refused.map(({ line }) => line)).toEqual([5]);
  });

  test('one row may speak of several sources, and of a time in two columns', () => {
    const map = `time: { date_column: D, time_column: H, format: "yyyy-MM-dd HH:mm", zone: UTC }
site: { column: S }
sources:
  - { unit: u1, values: { output_power_w: { column: P1 } } }
  - { unit: u2, values: { output_power_w: { column: P2, factor: -1, offset: 5 } } }
`;
    expect(decode(map, 'D,H,S,P1,P2\n2026-03-02,06:00,millpond,10,20\n')).toMatchObject({
      lines: 1,
      readings: [
        { source: 'millpond/unit/u1', t: '2026-03-02T06:00:00.000Z', values: { output_power_w: 10 } },
        { source: 'millpond/unit/u2', t: '2026-03-02T06:00:00.000Z', values: { output_power_w: -15 } },
      ],
    });
  });

  test.each([
    ['epoch_s', '1772431200.5', '2026-03-02T06:00:00.500Z'],
    ['epoch_ms', '1772431200500', '2026-03-02T06:00:00.500Z'],
    ['rfc3339', '2026-03-02T07:00:00.5+01:00', '2026-03-02T06:00:00.500Z'],
    ['"d MMM yyyy h:mm a ZZ"', '2 Mar 2026 7:00 AM +01:00', '2026-03-02T06:00:00.000Z'],
  ])('reads times as %s', (format, cell, t) => {
    const map = `time: { column: T, format: ${format} }\nsite: a\nunit: u1\nvalues: { output_power_w: { column: P } }\n`;
    expect(decode(map, `T,P\n${cell},1\n`).readings[0]?.t).toBe(t);
  });

  test('keeps the clock of each source by itself, from call to call', () => {
    const { map } = parseColumnMap(MAP, 'map.yaml');
    const decoder = createForeignCsvDecoder(map!, Buffer.from(HEADER));
    const row = (time: string, unit: number): string => `26.10.2025 ${time};WR ${unit};1;NETZ\n`;
    const pieces = [
      row('01:55:00', 1) + row('01:55:00', 2) + row('02:50:00', 1),
      row('02:10:00', 1) + row('02:20:00', 2),
      row('02:55:00', 2) + row('03:00:00', 1),
    ];
    const times = pieces.flatMap((piece) =>
      describeBatch(decoder.decode(Buffer.from(piece), 2)).readings.map(
        ({ source, t }) => `${source.slice(-2)} ${t.slice(11, 16)}`,
      ),
    );
    expect(times).toEqual(['u1 23:55', 'u2 23:55', 'u1 00:50', 'u1 01:10', 'u2 00:20', 'u2 00:55', 'u1 02:00']);
  });
});
