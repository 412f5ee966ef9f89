import { describe, expect, test } from 'vitest';
import { oneOf, readOptions, refuseRest, required, wholeNumber } from '../../../ingest/commands/read-options.ts';

const FORMS = { data: 'value', site: 'value', json: 'flag' } as const;
const read = (...args: string[]) => readOptions('try', FORMS, args);

describe('readOptions', () => {
  test('reads values in both spellings, flags, and the rest in order', () => {
    expect(read('a', '--data', 'x', '--site=y z', '--json', 'b')).toEqual({
      options: { data: 'x', site: 'y z', json: true },
      rest: ['a', 'b'],
    });
    expect(read()).toEqual({ options: { data: undefined, site: undefined, json: false }, rest: [] });
  });

  test('takes nothing after -- for an option', () => {
    expect(read('--', '--data').rest).toEqual(['--data']);
  });

  test('keeps a value that begins with a hyphen where it stands behind the equals sign', () => {
    expect(read('--site=--odd').options.site).toBe('--odd');
  });

  test.each([
    [['--dta', 'x'], 'kilter try: there is no option --dta; did you mean --data?'],
    [['-d', 'x'], 'kilter try: there is no option -d; its options are --data, --site, --json; see kilter help try'],
    [['--toString', 'x'], 'kilter try: there is no option --toString;'],
    [['--data'], 'kilter try: --data has no value;'],
    [['--data', '--json'], 'kilter try: --data has no value;'],
    [['--data='], 'kilter try: --data has no value;'],
    [['--json=yes'], 'kilter try: --json has the value "yes"; write --json alone'],
    [['--data', 'a', '--data', 'b'], 'kilter try: --data is given twice; give it once'],
  ])('refuses %j in words', (args, message) => {
    expect(() => read(...args)).toThrow(message);
  });
});

describe('required, refuseRest, oneOf, wholeNumber', () => {
  test('let good values through', () => {
    expect(required('try', 'data', 'x', './data')).toBe('x');
    expect(() => refuseRest('try', [])).not.toThrow();
    expect(oneOf('try', 'format', 'csv', ['csv', 'ndjson'])).toBe('csv');
    expect(wholeNumber('try', 'days', '12', 1, 12)).toBe(12);
  });

  test('refuse others with what to do instead', () => {
    expect(() => required('try', 'data', undefined, './data')).toThrow(
      '--data is missing; give it, for example --data ./data',
    );
    expect(() => refuseRest('try', ['x'])).toThrow('"x" is not expected here');
    expect(() => oneOf('try', 'format', 'csvv', ['csv', 'ndjson'])).toThrow('--format is "csvv"; did you mean csv?');
    expect(() => oneOf('try', 'format', 'xml', ['csv', 'ndjson'])).toThrow('give one of csv, ndjson');
    for (const text of ['0', '13', '1.5', '-1', '1e1', '']) {
      expect(() => wholeNumber('try', 'days', text, 1, 12)).toThrow('give a whole number from 1 to 12');
    }
  });
});
