/** A look at a device as lines: tables for people, one JSON object a line for programs. */
import type { ProbeReport } from '../sources/modbus/probe-device.ts';
import { formatTime } from '../vocabulary/time.ts';
import { type TextColumn, textTable } from './text-table.ts';

type Row = ProbeReport['rows'][number];
type Proposal = ProbeReport['currentSign'];

const hex = (word: number): string => word.toString(16).toUpperCase().padStart(4, '0');
const MOST_WORDS = 4;

function wordsText({ words }: Row): string {
  if (words === null) return '';
  const shown = words.slice(0, MOST_WORDS).map(hex).join(' ');
  return words.length > MOST_WORDS ? `${shown} …` : shown;
}

function valueText({ value, why, words }: Row): string {
  if (why !== null) return `absent: ${why}`;
  if (value === null) return words === null ? 'not read' : 'absent';
  return String(value);
}

/** Each value as it came and as it was understood. */
export function rowLines(rows: readonly Row[], width: number): readonly string[] {
  if (rows.length === 0) return ['  no value was read'];
  const column = (title: string, cell: (row: Row) => string, align: TextColumn['align'] = 'left'): TextColumn => ({
    title,
    align,
    cells: rows.map(cell),
  });
  return textTable(
    [
      column('value', ({ name }) => name),
      column('table', ({ table }) => table),
      column('address', ({ address }) => String(address), 'right'),
      { ...column('registers', wordsText), spare: 1 },
      column('raw', ({ raw }) => (raw === null ? '' : String(raw)), 'right'),
      column('decoded', valueText, 'right'),
    ],
    width,
  );
}

function proposalLine(name: string, { says, because }: { says: string | null; because: string }): string {
  return says === null ? `${name}: cannot tell; ${because}` : `${name}: ${says}; ${because}`;
}

function readingLines(polls: ProbeReport['polls']): string[] {
  return polls.flatMap(({ t, refused, readings }) => [
    `read at ${formatTime(t)}${refused === 0 ? '' : `, ${refused} values not taken`}`,
    ...readings.map(({ source, values, extras, settings }) => {
      const pairs = [
        ...Object.entries(values).map(([id, value]) => `${id} ${value}`),
        ...Object.entries(extras).map(([key, value]) => `(${key} ${String(value)})`),
        ...Object.entries(settings).map(([key, value]) => `${key}: ${String(value)}`),
      ];
      return `  ${source}: ${pairs.length === 0 ? 'nothing that it measures is there' : pairs.join(', ')}`;
    }),
  ]);
}

/** For people. @param width  of the terminal, in characters */
export function reportLines(report: ProbeReport, width: number): readonly string[] {
  const { trouble, models, rows, polls, wordOrder, currentSign, notes } = report;
  const said = notes.map(({ what, remedy }) => `note: ${what}; ${remedy}`);
  if (trouble !== null) return [`${trouble.what}; ${trouble.remedy}`, ...said];
  const chain = models.map(
    ({ model, address, length, isRead }) =>
      `  ${model} at ${address}, ${length} registers${isRead ? '' : ', not read'}`,
  );
  return [
    ...(models.length === 0 ? [] : ['models', ...chain, '']),
    ...rowLines(rows, width),
    '',
    ...readingLines(polls),
    '',
    ...(wordOrder === null ? [] : [proposalLine('word_order', wordOrder)]),
    proposalLine('current_sign', currentSign),
    ...said,
  ];
}

function proposalJson(
  proposes: string,
  { says, because }: Pick<Proposal, 'because'> & { says: string | null },
): string {
  return JSON.stringify({ kind: 'proposal', key: proposes, value: says, because });
}

/** For programs: `kind` tells what a line is. */
export function reportJson(report: ProbeReport): readonly string[] {
  const { isAnswering, trouble, models, rows, polls, wordOrder, currentSign, notes } = report;
  const line = (kind: string, fields: object): string => JSON.stringify({ kind, ...fields });
  return [
    line('device', { is_answering: isAnswering, ...(trouble === null ? {} : trouble) }),
    ...models.map(({ model, address, length, isRead }) => line('model', { model, address, length, is_read: isRead })),
    ...rows.map(rowJson),
    ...polls.flatMap(({ t, refused, readings }) =>
      readings.map(({ source, values, extras, settings }) =>
        line('reading', { t: formatTime(t), source, refused, ...values, extras, settings }),
      ),
    ),
    ...(wordOrder === null ? [] : [proposalJson('word_order', wordOrder)]),
    proposalJson('current_sign', currentSign),
    ...notes.map(({ what, remedy }) => line('note', { what, remedy })),
  ];
}

/** One value as JSON. */
export function rowJson({ name, table, address, words, raw, value, why }: Row): string {
  return JSON.stringify({ kind: 'value', name, table, address, words, raw, value, ...(why === null ? {} : { why }) });
}
