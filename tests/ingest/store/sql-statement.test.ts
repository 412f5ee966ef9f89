import { describe, expect, test } from 'vitest';
import { meansAllColumns, refuseNoQuery, wordsIn } from '../../../ingest/store/sql-statement.ts';

describe('refuseNoQuery', () => {
  test.each([
    'select 1',
    ' -- what for\n /* and why */ SELECT 1',
    'with a as (select 1) select * from a',
    'values (1)',
    'explain query plan select 1',
    '(select 1)',
  ])('lets %j through', (sql) => {
    expect(() => refuseNoQuery(sql)).not.toThrow();
  });

  test.each(['update sites set name = 1', 'begin', '/* select */ drop table sites'])('refuses %j', (sql) => {
    expect(() => refuseNoQuery(sql)).toThrow('does not ask for anything');
  });

  test.each(['', ';', '-- select 1', "'select'"])('says that %j is no statement', (sql) => {
    expect(() => refuseNoQuery(sql)).toThrow('there is no statement');
  });
});

describe('wordsIn and meansAllColumns', () => {
  test('find names whatever their case and quotes', () => {
    const words = wordsIn('SELECT "Mode", [t], `extra`, \'load_pct\' FROM Unit_Readings');
    expect([...words]).toEqual(expect.arrayContaining(['mode', 't', 'extra', 'load_pct', 'unit_readings']));
  });

  test.each([
    ['select * from a', true],
    ['select a.* from a', true],
    ['select t from a natural join b', true],
    ['select count(*), COUNT ( * ) from a', false],
    ["select '*' from a -- *", false],
  ])('%s: %s', (sql, all) => {
    expect(meansAllColumns(sql)).toBe(all);
  });
});
