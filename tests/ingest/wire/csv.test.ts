import { describe, expect, test } from 'vitest';
import { createCsvDecoder } from '../../../ingest/wire/csv.ts';
import { bytesOf, type DescribedBatch, describeBatch } from './describe-batch.ts';

const T = '2026-03-02T06:00:00.000Z';
const HEADER = 't,site,unit,output_power_w,mode';

function decode(header: string, rows: string, firstLine = 2): DescribedBatch {
  return describeBatch(createCsvDecoder(bytesOf(header)).decode(bytesOf(rows), firstLine));
}
function headerFaults(header: string): readonly string[] {
  return createCsvDecoder(bytesOf(header)).refusals.map(({ what }) => what);
}

describe('createCsvDecoder', () => {
  test('takes rows of units, packs, the bank and meters, each with its own quantities', () => {
    const { readings, refused } = decode(
      't,site,unit,pack,bank,meter,output_power_w,soc_pct,bank_soc_pct,meter_power_w\r\n',
      '2026-03-02T06:00:00Z,millpond,u1,,,,1215,,,\r\n1772431200000,millpond,,p1,,,,71.5,,\r\n1772431200000,millpond,,,bank,,,,70,\r\n1772431200000,millpond,,,,m1,,,,-4\r\n',
    );
    expect(refused).toEqual([]);
    expect(readings).toEqual([
      { source: 'millpond/unit/u1', t: T, values: { output_power_w: 1215 } },
      { source: 'millpond/pack/p1', t: T, values: { soc_pct: 71.5 } },
      { source: 'millpond/bank/bank', t: T, values: { bank_soc_pct: 70 } },
      { source: 'millpond/meter/m1', t: T, values: { meter_power_w: -4 } },
    ]);
  });

  test('an empty cell is absent, quoted or not, and spaces round a cell do not count', () => {
    expect(
      decode(HEADER, '0,a,u1,,\n0,a,u1,"",""\n0, a ,u1, 12 , grid\n').readings.map(({ values }) => values),
    ).toEqual([{}, {}, { output_power_w: 12, mode: 'grid' }]);
  });

  test('spaces round a text that is kept do not count either', () => {
    expect(decode('t,site,unit,door', '0,a,u1, open \n').readings[0]?.extras).toEqual({ door: 'open' });
  });

  test('takes numbers as CSV writers write them', () => {
    expect(
      decode(HEADER, '0,a,u1,+5,\n0,a,u1,007,\n0,a,u1,1.2e3,\n0,a,u1,.5,\n').readings.map(
        ({ values }) => values.output_power_w,
      ),
    ).toEqual([5, 7, 1200, 1]);
  });

  test('takes epoch milliseconds with a point or an exponent, as spreadsheets write them', () => {
    const { readings, refused } = decode(HEADER, '1772431200000.0,a,u1,5,\n1.7724312e12,a,u1,5,\n0.5,a,u1,5,\n');
    expect(readings.map(({ t }) => t)).toEqual([T, T]);
    expect(refused.map(({ what }) => what)).toEqual(['t is 0.5']);
  });

  test('keeps other columns: numbers and booleans as such, the rest as text', () => {
    expect(
      decode('t,site,unit,rpm,door,serial,remark', '0,a,u1,12.5,true,007,"hot, ""very"""\n').readings[0]?.extras,
    ).toEqual({
      rpm: 12.5,
      door: true,
      serial: '007',
      remark: 'hot, "very"',
    });
  });

  test('a quantity of another kind of source is kept as an extra', () => {
    expect(decode('t,site,unit,soc_pct', '0,a,u1,71\n').readings).toEqual([
      { source: 'a/unit/u1', t: '1970-01-01T00:00:00.000Z', values: {}, extras: { soc_pct: 71 } },
    ]);
  });

  test('takes settings, alarms, replaces and revision from columns', () => {
    const { readings, settings, alarms } = decode(
      't,site,unit,output_power_w,replaces,revision,settings.firmware,settings.low_soc_cutoff_pct,alarm,state',
      '0,a,u1,5,true,2,,,,\n0,a,u1,,,,1.10,20,,\n0,a,u1,,,,,,hot,raised\n',
    );
    expect(readings.map(({ replaces }) => replaces)).toEqual([2]);
    expect(settings).toMatchObject([{ values: { firmware: '1.10', low_soc_cutoff_pct: 20 }, reading: null }]);
    expect(alarms).toMatchObject([{ alarm: 'hot', state: 'raised' }]);
  });

  test('takes settings as JSON from a column of that name, beside those with a column of their own', () => {
    const { settings, refused } = decode(
      't,site,unit,settings,settings.phase',
      '0,a,u1,"{""battery_shared"":true}",\n0,a,u1,"{""firmware"":""1.10""}",L1\n0,a,u1,lithium,\n',
    );
    expect(settings).toMatchObject([
      { values: { battery_shared: true } },
      { values: { firmware: '1.10', phase: 'L1' } },
    ]);
    expect(refused.map(({ what }) => what)).toEqual(['settings is "lithium"']);
  });

  test('a quoted cell may hold newlines, and the lines after it keep their numbers', () => {
    const { readings, refused } = decode('t,site,unit,remark', '0,a,u1,"one\ntwo"\n0,a,u1\n', 2);
    expect(readings[0]?.extras).toEqual({ remark: 'one\ntwo' });
    expect(refused.map(({ line }) => line)).toEqual([4]);
  });

  test('a quote that is not closed spoils its own line alone', () => {
    const { readings, refused } = decode('t,site,unit,remark', '0,a,u1,"open\n1,a,u1,x\n2,a,u1,y\n');
    expect(refused.map(({ line, what }) => [line, what])).toEqual([[2, 'the quotes of "0,a,u1,\\"open" do not pair']]);
    expect(readings.map(({ extras }) => extras)).toEqual([{ remark: 'x' }, { remark: 'y' }]);
  });

  test('names the columns in any order', () => {
    expect(decode('output_power_w,unit,site,t', '5,u1,a,0\n').readings).toEqual([
      { source: 'a/unit/u1', t: '1970-01-01T00:00:00.000Z', values: { output_power_w: 5 } },
    ]);
  });

  test.each([
    ['too few cells', '0,a,u1,5', 'the row has 4 cells, the header 5'],
    ['too many cells', '0,a,u1,5,grid,9', 'the row has 6 cells, the header 5'],
    ['a decimal comma', '0,a,u1,5,5,grid', 'the row has 6 cells, the header 5'],
    ['text for a number', '0,a,u1,---,grid', 'output_power_w is "---"'],
    ['an unknown word', '0,a,u1,5,ON', 'mode is "ON"'],
    ['no time', ',a,u1,5,grid', 'the line has no "t"'],
    ['a time of another form', '02.03.2026 06:00,a,u1,5,grid', 't is "02.03.2026 06:00"'],
    ['a time with a fraction', '1.5,a,u1,5,grid', 't is 1.5'],
    ['no source', '0,a,,5,grid', 'the line names no source'],
    ['the header again', HEADER, 't is "t"'],
  ])('refuses a row with %s', (_, row, what) => {
    const { refused, lines, readings } = decode(HEADER, `${row}\n`);
    expect([refused.map((each) => each.what), lines, readings]).toEqual([[what], 1, []]);
  });

  test('a row with two sources is refused', () => {
    expect(decode('t,site,unit,pack', '0,a,u1,p1\n').refused[0]?.what).toBe('the line names both unit and pack');
  });

  test('blank rows are passed over', () => {
    expect(decode(HEADER, '\n0,a,u1,5,grid\n \r\n').lines).toBe(1);
  });
});

describe('the header of a CSV', () => {
  test('may have a byte order mark, quotes and spaces', () => {
    expect(headerFaults('\ufefft, site ,"unit",x\r\n')).toEqual([]);
  });

  test.each([
    ['a repeated name', 't,site,unit,x,x', 'columns 4 and 5 are both named "x"'],
    ['no time', 'site,unit,x', 'the header has no column t'],
    ['neither site nor source', 't,x', 'the header has no column site, no column unit (or pack, bank, meter)'],
    ['a column without a name', 't,site,unit,,x', 'column 4 has no name'],
    ['semicolons', 't;site;unit', 'the header "t;site;unit" has its names apart by ";", not by commas'],
    ['tabs', 't\tsite\tunit', 'the header "t\\tsite\\tunit" has its names apart by tabs, not by commas'],
    ['a quote that does not pair', 't,site,"unit', 'the quotes of the header "t,site,\\"unit" do not pair'],
  ])('with %s is refused', (_, header, what) => {
    expect(headerFaults(header)).toEqual([what]);
  });

  test('tells every mistake at once, and then refuses every row', () => {
    const decoder = createCsvDecoder(bytesOf('t,x,x'));
    expect(decoder.refusals.length).toBe(2);
    const { refused, lines } = decoder.decode(bytesOf('0,1,2\n\n0,1,2\n'), 2);
    expect([refused.map(({ line }) => line), lines]).toEqual([[2, 4], 2]);
  });

  test('of another form points to the column map', () => {
    expect(createCsvDecoder(bytesOf('Zeit;Leistung')).refusals[0]?.remedy).toContain('--columns');
  });
});
