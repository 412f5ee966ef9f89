import type { Zone } from 'luxon';
import { z } from 'zod';
import { ID_RULE, isSiteId, isSourceId, RESERVED_IDS, SOURCE_ID_RULE } from '../vocabulary/ids.ts';
import { COLUMNS, type Column, columnOf, SOURCE_KINDS, type SourceKind } from '../vocabulary/quantities.ts';
import type { Refusal } from '../vocabulary/refusal.ts';
import type { LineForm } from './row-end.ts';
import { type TimeFormat, timeFormat } from './time-format.ts';
import { zoneNamed } from './wall-clock.ts';
import { type Path, type PathFault, parsePlacedYaml, schemaFaults } from './yaml-mistakes.ts';

/** An id that is the same on every row, or stands in a column, perhaps under another name. */
export type NamedBy =
  | { readonly fixed: string }
  | { readonly column: string; readonly names: ReadonlyMap<string, string> | null };

/** Where a quantity comes from: stored value = cell × factor + offset. */
export interface ValueColumn {
  readonly column: string;
  readonly target: Column;
  readonly factor: number;
  readonly offset: number;
  /** Cells that mean "not measured", compared as text and, where both are numbers, as numbers. An empty cell always is. */
  readonly absent: readonly string[];
  /** Of an enumeration: the word for each text; null where the cells hold the words themselves. */
  readonly states: ReadonlyMap<string, string> | null;
}

export interface MappedSource {
  readonly kind: SourceKind;
  readonly id: NamedBy;
  readonly values: readonly ValueColumn[];
}

/** What is what in a CSV of another form. */
export interface ColumnMap {
  readonly form: LineForm & { readonly quotedCells: ',' | ';' | '\t' | '|' };
  readonly decimal: '.' | ',';
  readonly thousands: string | null;
  readonly encoding: 'utf-8' | 'windows-1252' | 'utf-16le';
  /** Lines before the header. */
  readonly skipLines: number;
  /** Texts of these columns, joined by a space, are read by `format`; a wall time is one of `zone`. */
  readonly time: { readonly columns: readonly string[]; readonly format: TimeFormat; readonly zone: Zone | null };
  readonly site: NamedBy;
  /** One for most files; several where one row holds the values of several sources. */
  readonly sources: readonly MappedSource[];
}

const ID = z.string({ error: `give an id: ${ID_RULE}` }).refine(isSiteId, { error: `give an id: ${ID_RULE}` });
const OWN_ID = z
  .string({ error: `give an id: ${SOURCE_ID_RULE}` })
  .refine(isSourceId, { error: `give an id: ${SOURCE_ID_RULE}` })
  .refine((id) => !RESERVED_IDS.includes(id), {
    error: `give another id: ${RESERVED_IDS.join(' and ')} are reserved`,
  });
const COLUMN = z
  .string({ error: 'give the name of a column, as in the header' })
  .min(1, { error: 'give the name of a column, as in the header' });
const NAMED_REMEDY = 'give an id, or { column: NAME, names: { "TEXT": id } }';
const namedBy = (id: z.ZodType<string>) =>
  z.union([id, z.strictObject({ column: COLUMN, names: z.record(z.string(), id).optional() })], {
    error: NAMED_REMEDY,
  });
const NUMBER = z.number({ error: 'give a number' });
const VALUE = z.strictObject(
  {
    column: COLUMN,
    factor: NUMBER.refine((factor) => factor !== 0, { error: 'give a number other than 0' }).default(1),
    offset: NUMBER.default(0),
    absent: z.array(z.union([z.string(), z.number()]), { error: 'give a list, for example ["", "---"]' }).default([]),
    states: z
      .record(z.string(), z.string({ error: 'give a word of the quantity' }), {
        error: 'give a word for each text: { "ON GRID": grid }',
      })
      .optional(),
  },
  { error: 'give { column: NAME }' },
);
const VALUES = z.record(z.string(), VALUE, {
  error: 'give a column for each quantity: { output_power_w: { column: NAME } }',
});
const SOURCE_KEYS = {
  unit: namedBy(OWN_ID).optional(),
  pack: namedBy(OWN_ID).optional(),
  bank: z.literal('bank', { error: 'write bank: bank' }).optional(),
  meter: namedBy(OWN_ID).optional(),
};
const TIME_PARTS = {
  format: z
    .string({ error: 'give date tokens such as "dd.MM.yyyy HH:mm:ss", or rfc3339, epoch_s or epoch_ms' })
    .refine((format) => timeFormat(format) !== null, {
      error: 'give tokens for year, month and day at least: "dd.MM.yyyy HH:mm:ss"; or rfc3339, epoch_s, epoch_ms',
    }),
  zone: z
    .string({ error: 'give an IANA zone such as Europe/Lisbon' })
    .refine((zone) => zoneNamed(zone) !== null, {
      error: 'give an IANA zone such as Europe/Lisbon, or UTC+1 for a clock that is never changed',
    })
    .optional(),
  column: COLUMN.optional(),
  date_column: COLUMN.optional(),
  time_column: COLUMN.optional(),
};
const ENCODINGS = {
  'utf-8': 'utf-8',
  latin1: 'windows-1252',
  'windows-1252': 'windows-1252',
  'utf-16le': 'utf-16le',
} as const;
const MAP = z.strictObject(
  {
    delimiter: z.enum([',', ';', '\t', '|'], { error: 'give one of "," ";" "\\t" "|"' }).default(','),
    decimal: z.enum(['.', ','], { error: 'give "." or ","' }).default('.'),
    thousands: z.enum(['.', ',', ' ', '\u00a0', '\u202f', "'"], { error: 'give "." "," "\'" or a space' }).optional(),
    encoding: z
      .enum(['utf-8', 'latin1', 'windows-1252', 'utf-16le'], { error: 'give utf-8, latin1, windows-1252 or utf-16le' })
      .default('utf-8'),
    skip_lines: z
      .int({ error: 'give a whole number, 0 or above' })
      .min(0, { error: 'give a whole number, 0 or above' })
      .default(0),
    time: z.strictObject(TIME_PARTS, {
      error: 'give { column: NAME, format: "dd.MM.yyyy HH:mm:ss", zone: Europe/Lisbon }',
    }),
    site: namedBy(ID),
    ...SOURCE_KEYS,
    values: VALUES.optional(),
    sources: z
      .array(z.strictObject({ ...SOURCE_KEYS, values: VALUES }), {
        error: 'give a list of { unit: u1, values: { … } }',
      })
      .min(1, { error: 'name one source at least' })
      .optional(),
  },
  { error: 'write the keys time, site, unit (or pack, bank, meter) and values' },
);
type MapData = z.infer<typeof MAP>;

function isFields(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

type Report = (path: Path, what: string, remedy: string) => void;

/** Which kind of source these keys name; reports none or several. */
function checkSource(source: Readonly<Record<string, unknown>>, path: Path, report: Report): void {
  const kinds = SOURCE_KINDS.filter((kind) => source[kind] !== undefined);
  const [kind, second] = kinds;
  if (kind === undefined) report(path, 'no source is named', 'add unit, pack, bank or meter');
  if (second !== undefined)
    report(
      [...path, second],
      `both ${kind} and ${second} are named`,
      'name one; a row with several goes under sources:',
    );
  if (!isFields(source.values)) return;
  for (const [id, value] of Object.entries(source.values)) {
    const column = SOURCE_KINDS.map((each) => columnOf(each, id)).find((found) => found !== undefined);
    const at = [...path, 'values', id];
    if (column === undefined)
      report(
        at,
        `${id} is no quantity`,
        `use one of ${SOURCE_KINDS.flatMap((each) => (kind === undefined || each === kind ? quantityNames(each) : [])).join(', ')}`,
      );
    else if (kind !== undefined && columnOf(kind, id) === undefined)
      report(at, `${id} is no quantity of a ${kind}`, `use one of ${quantityNames(kind).join(', ')}`);
    else checkStates(column, value, at, report);
  }
}

function quantityNames(kind: SourceKind): string[] {
  return COLUMNS[kind].map(({ id }) => id);
}

function checkStates({ id, words }: Column, value: unknown, path: Path, report: Report): void {
  const states = isFields(value) ? value.states : undefined;
  if (!isFields(states)) return;
  if (words === null)
    report([...path, 'states'], `${id} is a number`, 'take states out: only mode and pack_state have words');
  for (const [text, word] of Object.entries(states)) {
    if (words !== null && typeof word === 'string' && !words.includes(word)) {
      report([...path, 'states', text], `${id} knows no ${word}`, `use one of ${words.join(', ')}`);
    }
  }
}

/** What no single key can tell: sources, their quantities, the parts of the time, the two signs. */
function checkTogether(map: Readonly<Record<string, unknown>>, report: Report): void {
  if (Array.isArray(map.sources)) {
    for (const [k, source] of map.sources.entries()) if (isFields(source)) checkSource(source, ['sources', k], report);
    for (const key of [...SOURCE_KINDS, 'values']) {
      if (map[key] !== undefined)
        report([key], `${key} stands beside sources`, 'move it into sources, or take sources out');
    }
  } else {
    checkSource(map, [], report);
    if (map.values === undefined)
      report([], 'values is missing', 'give a column for each quantity: { output_power_w: { column: NAME } }');
  }
  if (map.thousands !== undefined && map.thousands === (map.decimal ?? '.'))
    report(['thousands'], 'thousands and decimal are the same sign', 'give two signs');
  if (isFields(map.time)) checkTime(map.time, report);
}

function checkTime(time: Readonly<Record<string, unknown>>, report: Report): void {
  const isSplit = time.date_column !== undefined || time.time_column !== undefined;
  if (isSplit && (time.date_column === undefined || time.time_column === undefined))
    report(['time'], 'time has half of a split time', 'give both date_column and time_column');
  if (isSplit === (time.column !== undefined))
    report(
      ['time'],
      isSplit ? 'time has both column and date_column' : 'time.column is missing',
      'give column, or date_column and time_column',
    );
  const format = typeof time.format === 'string' ? timeFormat(time.format) : null;
  if (format?.gives === 'wall' && time.zone === undefined)
    report(['time'], 'time.zone is missing', 'add the zone the clock shows, such as Europe/Lisbon, or UTC');
  if (format?.gives === 'instant' && time.zone !== undefined)
    report(['time', 'zone'], 'the times of this format need no zone', 'take zone out');
}

function madeName(named: string | { column: string; names?: Record<string, string> | undefined }): NamedBy {
  if (typeof named === 'string') return { fixed: named };
  return { column: named.column, names: named.names === undefined ? null : new Map(Object.entries(named.names)) };
}

function madeSource(source: Pick<MapData, SourceKind | 'values'>): MappedSource {
  const kind = SOURCE_KINDS.find((each) => source[each] !== undefined) ?? 'unit';
  const values = Object.entries(source.values ?? {}).flatMap(
    ([id, { column, factor, offset, absent, states }]): ValueColumn[] => {
      const target = columnOf(kind, id);
      if (target === undefined) return [];
      return [
        {
          column,
          target,
          factor,
          offset,
          absent: absent.map(String),
          states: states === undefined ? null : new Map(Object.entries(states)),
        },
      ];
    },
  );
  return { kind, id: madeName(source[kind] ?? ''), values };
}

function madeMap(data: MapData): ColumnMap | null {
  const { column, date_column, time_column, format, zone } = data.time;
  const read = timeFormat(format);
  if (read === null) return null;
  const encoding = ENCODINGS[data.encoding];
  return {
    form: { quotedCells: data.delimiter, unitBytes: encoding === 'utf-16le' ? 2 : 1 },
    decimal: data.decimal,
    thousands: data.thousands ?? null,
    encoding,
    skipLines: data.skip_lines,
    time: {
      columns: [column, date_column, time_column].filter((name) => name !== undefined),
      format: read,
      zone: zone === undefined ? null : zoneNamed(zone),
    },
    site: madeName(data.site),
    sources: (data.sources ?? [data]).map(madeSource),
  };
}

function faultsOf(value: unknown): { data: MapData | null; faults: readonly PathFault[] } {
  const parsed = MAP.safeParse(value);
  const faults = parsed.success ? [] : schemaFaults(value, parsed.error.issues);
  if (isFields(value)) checkTogether(value, (path, what, remedy) => faults.push({ path, fault: { what, remedy } }));
  return { data: parsed.data ?? null, faults };
}

/**
 * Reads the column map of a foreign CSV.
 *
 * @param text  YAML
 * @param file  its name, for messages
 * @returns the map, or null and every mistake in it, each with its line and column
 */
export function parseColumnMap(
  text: string,
  file: string,
): { readonly map: ColumnMap | null; readonly mistakes: readonly Refusal[] } {
  const yaml = parsePlacedYaml(text, file);
  if (yaml.mistakes.length > 0) return { map: null, mistakes: yaml.mistakes };
  const { data, faults } = faultsOf(yaml.value);
  return { map: data === null || faults.length > 0 ? null : madeMap(data), mistakes: yaml.place(faults) };
}
