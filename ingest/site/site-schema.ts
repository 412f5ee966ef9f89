/** The table of a site record: which key is read how. What the keys mean stands in `record.ts`. */
import { isMap, isScalar, isSeq } from 'yaml';
import type { IdRoster } from './id-roster.ts';
import { siteId } from './id-roster.ts';
import { nearestWord } from './nearest-word.ts';
import type { Cable, SharingLaw } from './record.ts';
import {
  assumed,
  band,
  day,
  flag,
  list,
  number,
  oneOf,
  optional,
  type Reader,
  required,
  shape,
  text,
} from './yaml-readers.ts';
import { type At, at, refuse, show, textOf, warn } from './yaml-reading.ts';

export const DEFAULT_LIMITS = { share_points: 3, heat_w: 10, changeover_ms: 20 } as const;

const LAWS: readonly SharingLaw[] = ['wired', 'droop', 'link'];

const readCable = shape('cable', {
  length_m: optional(number({ unit: 'm', above: 0, example: 6, likely: [0.1, 300] }), null),
  area_mm2: optional(number({ unit: 'mm²', above: 0, example: 16, likely: [1, 630] }), null),
  material: assumed(oneOf(['copper', 'aluminium'] as const), 'copper'),
});

/** A cable without length or area has no resistance that could be worked out: it is read as not recorded. */
const cable: Reader<Cable | null> = (value) => {
  const read = readCable(value);
  if (read === undefined) return undefined;
  const { length_m, area_mm2, material } = read;
  if (length_m !== null && area_mm2 !== null) return { length_m, area_mm2, material };
  const lacking = length_m === null ? 'length_m' : 'area_mm2';
  warn(value, `this cable has no ${lacking}; ${value.name} is read as not recorded`, `add ${lacking}`);
  return null;
};

/** Intl knows the list; an offset such as +01:00 is no zone, because it has no summer time. */
const timezone: Reader<string> = (value) => {
  const found = textOf(value.node) ?? '';
  const says = `${value.name} is ${show(value.node)}`;
  if (/^[A-Za-z]/.test(found)) {
    try {
      new Intl.DateTimeFormat('en', { timeZone: found });
      return found;
    } catch {
      // Intl throws a RangeError for a name that it does not know.
    }
  }
  const nearest = nearestWord(found, Intl.supportedValuesOf('timeZone'));
  return refuse(
    value,
    says,
    nearest === null ? 'write an IANA time zone, for example Europe/Lisbon' : `did you mean ${nearest}?`,
  );
};

/** Settings as sent by a unit: texts, numbers, true or false. */
const settings: Reader<Readonly<Record<string, string | number | boolean>>> = (value) => {
  if (!isMap(value.node))
    return refuse(
      value,
      `${value.name} is ${show(value.node)}`,
      'write a map of settings, for example { battery_type: lithium }',
    );
  const read: [string, string | number | boolean][] = [];
  for (const pair of value.node.items) {
    const name = isScalar(pair.key) ? (textOf(pair.key) ?? '') : '';
    const offset = isScalar(pair.key) ? (pair.key.range?.[0] ?? value.offset) : value.offset;
    const entry = at(value.reading, pair.value, { path: `${value.path}.${name}`, name, offset });
    const found = isScalar(entry.node) ? entry.node.value : undefined;
    if (name !== '' && (typeof found === 'string' || typeof found === 'boolean')) read.push([name, found]);
    else if (name !== '' && typeof found === 'number') read.push([name, numberSetting(entry, found)]);
    else if (name !== '' && found === null)
      warn(entry, `${name} is empty; it is not compared`, 'give its value, or leave the key out');
    else
      refuse(
        entry,
        `${name === '' ? 'this setting' : name} is ${show(entry.node)}`,
        'write a text, a number, true or false',
      );
  }
  return Object.fromEntries(read);
};

/** 1.10 is the number 1.1 in YAML, and would differ from the version "1.10" for ever. */
function numberSetting(entry: At, found: number): number {
  const written = textOf(entry.node) ?? '';
  const isQuantity = /_(v|a|w|hz|pct|c|ah|wh|s|ms)$/.test(entry.name);
  if (!isQuantity && written !== String(found)) {
    warn(
      entry,
      `${entry.name} is read as the number ${found}, not as ${written}`,
      `if it is a text, write it in quotes: "${written}"`,
    );
  }
  return found;
}

function unitFields(roster: IdRoster) {
  return shape('unit', {
    id: required(roster.own('unit'), 'id: u1'),
    role: optional(oneOf(['lead', 'follower'] as const), null),
    rated_power_w: required(
      number({ unit: 'W', above: 0, example: 8000, likely: [200, 250_000] }),
      'rated_power_w: 8000',
    ),
    phase: assumed(oneOf(['L1', 'L2', 'L3', 'split', 'three'] as const), 'L1'),
    serial: optional(text, null),
    chain_position: optional(number({ unit: '', isWhole: true, from: 1, example: 1 }), null),
    terminated: optional(flag, null),
    output_cable: optional(cable, null),
    input_cable: optional(cable, null),
  });
}

function packFields(roster: IdRoster) {
  return shape('pack', {
    id: required(roster.own('pack'), 'id: p1'),
    capacity_ah: required(number({ unit: 'Ah', above: 0, example: 100, likely: [5, 5000] }), 'capacity_ah: 100'),
    nominal_voltage_v: optional(number({ unit: 'V', above: 0, example: 51.2, likely: [6, 1500] }), null),
    cells_in_series: optional(number({ unit: '', isWhole: true, from: 1, example: 16, to: 1000 }), null),
    chemistry: assumed(text, 'lfp'),
    serial: optional(text, null),
  });
}

/** One transformer, or a list of them. */
function ctReader(roster: IdRoster) {
  const one = shape('ct', {
    unit: required(roster.reference('unit'), 'unit: u1'),
    phase: optional(oneOf(['L1', 'L2', 'L3', 'split', 'three'] as const), null),
  });
  const several = list(one, { noun: 'ct' });
  return (value: At) => {
    if (!isMap(value.node)) return several(value);
    const read = one(value);
    return read === undefined ? undefined : [read];
  };
}

/** `{ by: external }`, or the word alone. */
function bondReader(roster: IdRoster): Reader<string> {
  const word = roster.reference('unit', ['external', 'none']);
  const map = shape('neutral_earth_bond', { by: required(word, 'by: external') });
  return (value) => {
    if (isMap(value.node)) return map(value)?.by;
    if (!isSeq(value.node)) return word(value);
    return refuse(
      value,
      `${value.name} is a list`,
      'name the one bond that exists in backup: { by: a unit, external or none }',
    );
  };
}

function linkReader(roster: IdRoster) {
  const read = shape('battery_link', {
    pack: required(roster.reference('pack'), 'pack: p1'),
    unit: required(roster.reference('unit'), 'unit: u1'),
  });
  return (value: At) =>
    isSeq(value.node)
      ? refuse(
          value,
          `${value.name} is a list`,
          'name the one pack and the one unit that the data cable joins: { pack: p1, unit: u1 }',
        )
      : read(value);
}

/** Everything of one document. Keys whose default depends on others are null here, and filled in `parse-sites.ts`. */
export function siteShape(roster: IdRoster) {
  const positive = (unit: string, example: number) => number({ unit, above: 0, example });
  return shape('site', {
    site: required(siteId, 'site: millpond'),
    valid_from: optional(day, null),
    name: optional(text, null),
    timezone: assumed(timezone, 'UTC'),
    supply: required(
      shape('supply', {
        nominal_voltage_v: required(
          number({ unit: 'V', above: 0, example: 230, likely: [90, 1000] }),
          'nominal_voltage_v: 230',
        ),
        nominal_frequency_hz: required(
          number({ unit: 'Hz', above: 0, example: 50, likely: [45, 65] }),
          'nominal_frequency_hz: 50',
        ),
        phases: optional(oneOf([1, 2, 3] as const), null),
      }),
      'supply: { nominal_voltage_v: 230, nominal_frequency_hz: 50, phases: 1 }',
    ),
    sample_interval_s: assumed(number({ unit: 's', above: 0, example: 10, likely: [0.5, 3600] }), 10, '10 s'),
    units: required(
      list(unitFields(roster), { noun: 'unit', least: 1 }),
      'units: [{ id: u1, role: lead, rated_power_w: 8000, phase: L1 }]',
    ),
    packs: optional(list(packFields(roster), { noun: 'pack' }), []),
    battery_link: optional(linkReader(roster), null),
    ct: optional(ctReader(roster), []),
    meters: optional(
      list(
        shape('meter', {
          id: required(roster.own('meter'), 'id: m1'),
          role: required(oneOf(['supply', 'generator', 'ac_pv', 'load'] as const), 'role: supply'),
        }),
        { noun: 'meter' },
      ),
      [],
    ),
    neutral_earth_bond: optional(bondReader(roster), null),
    sharing: optional(shape('sharing', { grid: optional(oneOf(LAWS), null), backup: optional(oneOf(LAWS), null) }), {
      grid: null,
      backup: null,
    }),
    reserve_soc_pct: optional(number({ unit: '%', from: 0, to: 100, example: 20 }), null),
    ac_coupled_pv: optional(flag, false),
    island_frequency_band_hz: optional(band({ unit: 'Hz', above: 0, example: 49 }, '[49.0, 51.0]'), null),
    island_voltage_band_pct: optional(band({ unit: '%', from: -100, to: 100, example: -10 }, '[-10, 10]'), [
      -10, 10,
    ] as const),
    commissioned: optional(day, null),
    group: optional(text, null),
    limits: optional(
      shape('limits', {
        share_points: optional(positive('points', 3), DEFAULT_LIMITS.share_points),
        heat_w: optional(positive('W', 10), DEFAULT_LIMITS.heat_w),
        changeover_ms: optional(positive('ms', 20), DEFAULT_LIMITS.changeover_ms),
      }),
      DEFAULT_LIMITS,
    ),
    expected_settings: optional(settings, {}),
  });
}

/** What the table gives: a record whose dependent defaults are still open. */
export type OpenRecord = NonNullable<ReturnType<ReturnType<typeof siteShape>>>;
