import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { checkSites } from '../../ingest/site/check-sites.ts';
import { parseSites } from '../../ingest/site/parse-sites.ts';
import { MILLPOND } from '../ingest/site/millpond.ts';

interface Tree {
  [key: string]: unknown;
}

/** What a record cannot do without; of an optional map, what it cannot do without once it is there. */
const REQUIRED = new Set([
  'site',
  'supply',
  'supply.nominal_voltage_v',
  'supply.nominal_frequency_hz',
  'units',
  'units.id',
  'units.rated_power_w',
  'packs.id',
  'packs.capacity_ah',
  'battery_link.pack',
  'battery_link.unit',
  'ct.unit',
  'meters.id',
  'meters.role',
  'neutral_earth_bond.by',
]);

const isTree = (value: unknown): value is Tree => typeof value === 'object' && value !== null && !Array.isArray(value);

/** Every optional key, with the map it stands in, deepest last. */
function optionalKeys(value: unknown, path = ''): [Tree, string][] {
  if (Array.isArray(value)) return value.flatMap((element) => optionalKeys(element, path));
  if (!isTree(value)) return [];
  return Object.entries(value).flatMap(([key, child]) => {
    const name = path === '' ? key : `${path}.${key}`;
    const here: [Tree, string][] = REQUIRED.has(name) ? [] : [[value, key]];
    return [...here, ...optionalKeys(child, name)];
  });
}

const KEY_COUNT = optionalKeys(parse(MILLPOND)).length;

/** The record without the keys of that mask; a link to a pack falls with the packs. */
function without(mask: readonly boolean[]): string {
  const tree = parse(MILLPOND) as Tree;
  optionalKeys(tree).forEach(([map, key], i) => {
    if (mask[i] === true) delete map[key];
  });
  if (tree.packs === undefined) delete tree.battery_link;
  return stringify(tree);
}

describe('a site record', () => {
  test('is never refused for a key that may be missing', () => {
    expect(KEY_COUNT).toBeGreaterThan(50);
    fc.assert(
      fc.property(fc.array(fc.boolean(), { minLength: KEY_COUNT, maxLength: KEY_COUNT }), (mask) => {
        const { documents, refusals } = parseSites(without(mask), 'sites.yaml');
        expect(refusals).toEqual([]);
        expect(documents).toHaveLength(1);
        // What was left out never becomes a number that is none.
        expect(JSON.parse(JSON.stringify(documents[0]))).toEqual(documents[0]);
      }),
      { numRuns: 150 },
    );
  });

  test('whatever is done to its text, the answer is a list of mistakes with places in it, never an exception', () => {
    const anywhere = fc.nat(MILLPOND.length);
    const piece = fc.oneof(
      fc.constantFrom('\t', '---\n', '*a', '&a ', '[', '}', ': ', '"', '\n- ', '<<: ', '? ', '| ', '!!x '),
      fc.string({ maxLength: 6 }),
    );
    fc.assert(
      fc.property(anywhere, anywhere, piece, (a, b, put) => {
        const text = MILLPOND.slice(0, Math.min(a, b)) + put + MILLPOND.slice(a < b ? Math.min(b, a + 12) : a);
        const { refusals, warnings, documents, contradictions } = checkSites([{ file: 'sites.yaml', text }]);
        const lines = text.split(/\r\n?|\n/).length;
        for (const { line, column, what, remedy } of [...refusals, ...warnings, ...contradictions]) {
          expect(line).toBeGreaterThanOrEqual(1);
          expect(line).toBeLessThanOrEqual(lines);
          expect(column).toBeGreaterThanOrEqual(1);
          expect(what).not.toBe('');
          expect(remedy).not.toBe('');
        }
        expect(documents.length + refusals.length + warnings.length).toBeGreaterThan(0);
      }),
      { numRuns: 300 },
    );
  });
});
