/** The way back: a batch as log lines, for a courier that sends on what it took. */
import { COLUMNS, fromStored } from '../vocabulary/quantities.ts';
import type { AlarmReading, ReadingBatch, SettingsReading, SourceKey } from '../vocabulary/reading.ts';

/** One line, with its source and time beside, so that whoever sends it need not read it again. */
export interface EncodedLine {
  readonly source: SourceKey;
  /** Epoch ms. */
  readonly t: number;
  /** A JSON object without the newline. */
  readonly text: string;
  /** A plain reading; settings, alarms and lines that replace are the others. */
  readonly isPlain: boolean;
}

type Fields = Record<string, unknown>;

/** Keys that mean something of their own: a foreign value under such a key goes by another name. */
const WORDS: ReadonlySet<string> = new Set([
  't',
  'site',
  'unit',
  'pack',
  'bank',
  'meter',
  'replaces',
  'revision',
  'alarm',
]);

/** What stands beside the readings of a batch, by the place of the reading. */
interface Beside {
  readonly extras: ReadonlyMap<number, Readonly<Record<string, unknown>>>;
  readonly revisions: ReadonlyMap<number, number>;
  readonly settings: ReadonlyMap<number, SettingsReading>;
  readonly alarms: ReadonlyMap<number, AlarmReading>;
}

/**
 * Each thing a batch says as a line of NDJSON; read again, they say the same, for every stored
 * integer up to 2^49: beyond it a double holds no three decimals. Refused lines are not in it.
 *
 * @returns readings in their order, then settings and alarms that came on lines of their own
 */
export function encodeLines(batch: ReadingBatch): EncodedLine[] {
  const beside = besideOf(batch);
  const lines: EncodedLine[] = [];
  const { rows, rowsLength, sources } = batch;
  for (let at = 0, reading = 0; at < rowsLength; reading++) {
    const source = sources[rows[at]!]!;
    const t = rows[at + 1]!;
    const end = at + 3 + 2 * rows[at + 2]!;
    const values: Fields = {};
    for (at += 3; at < end; at += 2) {
      const { id, decimals, words } = COLUMNS[source.kind][rows[at]!]!;
      values[id] = words === null ? fromStored(decimals, rows[at + 1]!) : words[rows[at + 1]!];
    }
    lines.push(readingLine(source, t, values, reading, beside));
  }
  for (const one of batch.settings) if (one.reading === null) lines.push(settingsLine(sources[one.source]!, one));
  for (const one of batch.alarms) {
    const source = sources[one.source]!;
    if (one.reading === null) lines.push(lineOf(source, one.t, { alarm: one.alarm, state: one.state }, false));
  }
  return lines;
}

function besideOf({ extras, replacing, settings, alarms }: ReadingBatch): Beside {
  const withReading = <One extends { readonly reading: number | null }>(all: readonly One[]): Map<number, One> =>
    new Map(all.flatMap((one) => (one.reading === null ? [] : [[one.reading, one] as const])));
  return {
    extras: new Map(extras.map(({ reading, values }) => [reading, values])),
    revisions: new Map(replacing.map(({ reading, revision }) => [reading, revision])),
    settings: withReading(settings),
    alarms: withReading(alarms),
  };
}

function readingLine(source: SourceKey, t: number, values: Fields, reading: number, beside: Beside): EncodedLine {
  const extras = beside.extras.get(reading);
  const revision = beside.revisions.get(reading);
  const settings = beside.settings.get(reading);
  const alarm = beside.alarms.get(reading);
  const foreign = Object.entries(extras ?? {}).map(([key, value]) => [WORDS.has(key) ? `${key}_` : key, value]);
  const fields: Fields = {
    ...values,
    // fromEntries defines each key as its own, "__proto__" too; the spread keeps it so.
    ...Object.fromEntries(foreign),
    ...(settings === undefined ? {} : { settings: settings.values }),
    ...(alarm === undefined ? {} : { alarm: alarm.alarm, state: alarm.state }),
    ...(revision === undefined ? {} : { replaces: true, ...(revision === 0 ? {} : { revision }) }),
  };
  return lineOf(source, t, fields, revision === undefined && settings === undefined && alarm === undefined);
}

function settingsLine(source: SourceKey, { t, values, replaces, revision }: SettingsReading): EncodedLine {
  const fields = { settings: values, ...(replaces ? { replaces } : {}), ...(revision === 0 ? {} : { revision }) };
  return lineOf(source, t, fields, false);
}

function lineOf(source: SourceKey, t: number, fields: Fields, isPlain: boolean): EncodedLine {
  const text = JSON.stringify({ t, site: source.site, [source.kind]: source.id, ...fields });
  return { source, t, text, isPlain };
}
