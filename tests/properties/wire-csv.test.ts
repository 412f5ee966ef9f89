import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { ReadingBatch } from '../../ingest/vocabulary/reading.ts';
import { BatchBuilder } from '../../ingest/wire/batch-builder.ts';
import { parseColumnMap } from '../../ingest/wire/column-map.ts';
import { createCsvDecoder, readCsvRow, rowColumns } from '../../ingest/wire/csv.ts';
import { findHeader } from '../../ingest/wire/csv-header.ts';
import { createForeignCsvDecoder } from '../../ingest/wire/foreign-csv.ts';
import { createLineChunks } from '../../ingest/wire/line-chunks.ts';
import { isFault } from '../../ingest/wire/line-meaning.ts';
import { CSV_ROWS, rowEnd } from '../../ingest/wire/row-end.ts';
import { bytesOf, type DescribedBatch, describeBatch, describeBatches } from '../ingest/wire/describe-batch.ts';
import { mutated } from './_mutated.ts';

const NAMES = ['t', 'site', 'unit', 'pack', 'output_power_w', 'grid_frequency_hz', 'mode', 'soc_pct', 'door'];
const cell = fc.constantFrom(
  '',
  '5',
  '-12.5',
  '49.98',
  '+7',
  '007',
  '1e3',
  ' 8 ',
  'grid',
  'GRID',
  'true',
  '"5"',
  '"a,b"',
  '"a\nb"',
  '"x""y"',
  'a"b',
  '"open',
  '-',
  'Tür',
  '1,5',
);
const head = fc.tuple(
  fc.constantFrom(
    '2026-03-02T06:00:00Z',
    '2026-03-02T06:00:03.217Z',
    '1772431200000',
    '',
    '02.03.2026',
    '"2026-03-02T06:00:00Z"',
  ),
  fc.constantFrom('millpond', 'millpond', 'A', ''),
  fc.constantFrom('u1', 'u2', '', 'site', '"u1"'),
  fc.constantFrom('', '', 'p1'),
);
const plain = fc.tuple(
  fc.integer({ min: -9999, max: 9999 }).map(String),
  fc.double({ min: 0, max: 100, noNaN: true }).map((x) => x.toFixed(3)),
  fc.constantFrom('grid', 'backup', ''),
  fc.constant(''),
  fc.constantFrom('', '', 'open'),
);
const row = fc
  .tuple(
    head,
    fc.oneof(plain, plain, fc.array(cell, { minLength: 5, maxLength: 5 }), fc.array(cell, { maxLength: 7 })),
    fc.constantFrom('', '\r'),
  )
  .map(([first, rest, end]) => `${[...first, ...rest].join(',')}${end}`);
const file = fc
  .array(fc.oneof({ weight: 10, arbitrary: row }, fc.constantFrom('', '  ')), { maxLength: 10 })
  .map((rows) => rows.join('\n'));

/** The slow way alone, row by row. */
function reference(bytes: Uint8Array): DescribedBatch {
  const builder = new BatchBuilder();
  let line = 2;
  for (let at = 0; at < bytes.length; ) {
    const end = rowEnd(bytes, at, CSV_ROWS, true);
    const text = new TextDecoder().decode(bytes.subarray(at, end));
    if (text.trim() !== '') {
      const meaning = readCsvRow(rowColumns(NAMES), bytes.subarray(at, end));
      if (isFault(meaning)) builder.refuse(line, meaning);
      else {
        builder.countLine();
        builder.take(meaning);
      }
    }
    line += Math.max(1, text.split('\n').length - 1);
    at = end;
  }
  return describeBatch(builder.finish());
}

/** Feeds a file in pieces cut at any byte. */
function decodeCut(bytes: Uint8Array, cuts: readonly number[]): DescribedBatch {
  const chunks = createLineChunks({ form: CSV_ROWS, startLine: 2 });
  const places = [0, ...cuts.filter((cut) => cut < bytes.length).sort((a, b) => a - b), bytes.length];
  const pieces = places.slice(1).flatMap((to, k) => [...chunks.feed(bytes.subarray(places[k]!, to))]);
  const decoder = createCsvDecoder(bytesOf(NAMES.join(',')));
  return describeBatches(
    [...pieces, ...chunks.end()].flatMap((piece) =>
      piece.kind === 'lines' ? [decoder.decode(piece.bytes, piece.firstLine)] : [],
    ),
  );
}

describe('the fast way through CSV', () => {
  test('says of every row what its cells say', () => {
    fc.assert(
      fc.property(file, fc.constantFrom('', '\n'), (text, end) => {
        const bytes = bytesOf(text + end);
        expect(describeBatch(createCsvDecoder(bytesOf(NAMES.join(','))).decode(bytes, 2))).toEqual(reference(bytes));
      }),
      { numRuns: 1500 },
    );
  });

  test('says the same wherever a file is cut', () => {
    fc.assert(
      fc.property(file, fc.array(fc.nat(300), { maxLength: 6 }), (text, cuts) => {
        const bytes = bytesOf(text);
        expect(decodeCut(bytes, cuts)).toEqual(reference(bytes));
      }),
      { numRuns: 600 },
    );
  });
});

/** Readings, and nothing else, come from these files: each line is one, or is refused. */
function isConsistent({ readings, refused, lines, settings, alarms }: ReadingBatch): boolean {
  return readings + refused.length === lines && settings.length + alarms.length === 0;
}

describe('hostile bytes', () => {
  const good = bytesOf(
    '2026-03-02T06:00:00Z,millpond,u1,,1215,49.98,grid,,open\n2026-03-02T06:00:03.217Z,millpond,,p1,,,,71.5,"a ""b""\nc"\n1772431200000,millpond,u2,,-5,50,backup,,\n',
  );

  test('never make the CSV decoder throw, and every row is a reading or refused', () => {
    const decoder = createCsvDecoder(bytesOf(NAMES.join(',')));
    for (let seed = 1; seed <= 20_000; seed += 1) {
      const batch = decoder.decode(mutated(good, seed), 2);
      if (!isConsistent(batch))
        throw new Error(
          `seed ${seed}: ${batch.lines} lines, ${batch.readings} readings, ${batch.refused.length} refused`,
        );
      if (seed % 40 === 0) describeBatch(batch);
    }
    expect(describeBatch(decoder.decode(good, 2))).toMatchObject({ lines: 3, refused: [] });
  });

  test('never make a header throw', () => {
    const header = bytesOf(`${NAMES.join(',')}\n`);
    let readable = 0;
    for (let seed = 1; seed <= 2000; seed += 1) {
      const decoder = createCsvDecoder(mutated(header, seed));
      if (decoder.refusals.length === 0) readable += 1;
      if (!isConsistent(decoder.decode(good, 2))) throw new Error(`seed ${seed}`);
    }
    expect(readable).toBeGreaterThan(0);
  });

  const map = `delimiter: ";"
decimal: ","
time: { column: Zeit, format: "dd.MM.yyyy HH:mm:ss", zone: Europe/Berlin }
site: millpond
unit: { column: Ort, names: { "WR 1": u1, "WR 2": u2 } }
values:
  output_power_w: { column: kW, factor: 1000, absent: ["---"] }
  mode: { column: Status, states: { NETZ: grid } }
`;
  const foreign = bytesOf(
    'Zeit;Ort;kW;Status\n26.10.2025 02:30:00;WR 1;1,215;NETZ\n26.10.2025 02:10:00;"WR 1";---;"a;b\nc"\n02.03.2026 07:00:00;WR 2;-1;\n',
  );

  test('never make the decoder of a foreign CSV throw, and every row is a reading or refused', () => {
    const columns = parseColumnMap(map, 'map.yaml').map!;
    for (let seed = 1; seed <= 5000; seed += 1) {
      const bytes = mutated(foreign, seed);
      const place = findHeader(bytes, columns.form, columns.skipLines);
      if (place === null) continue;
      const batch = createForeignCsvDecoder(columns, place.header).decode(
        bytes.subarray(place.bodyOffset),
        place.bodyLine,
      );
      if (!isConsistent(batch)) throw new Error(`seed ${seed}: ${batch.lines} lines`);
      if (seed % 40 === 0) describeBatch(batch);
    }
    const place = findHeader(foreign, columns.form, 0)!;
    expect(
      describeBatch(createForeignCsvDecoder(columns, place.header).decode(foreign.subarray(place.bodyOffset), 2)),
    ).toMatchObject({ lines: 3, refused: [] });
  });

  test('never make the column map throw: it is read, or its mistakes are told', () => {
    const bytes = bytesOf(map);
    for (let seed = 1; seed <= 400; seed += 1) {
      const read = parseColumnMap(new TextDecoder().decode(mutated(bytes, seed)), 'map.yaml');
      if ((read.map === null) === (read.mistakes.length === 0))
        throw new Error(`seed ${seed}: ${read.mistakes.length} mistakes`);
    }
    expect(parseColumnMap(map, 'map.yaml').mistakes).toEqual([]);
  });
});
