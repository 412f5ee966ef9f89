/** The registers of a simulated device whose layout is a register profile: the profile read the other way round. */
import { parse } from 'yaml';
import { z } from 'zod';
import { COLUMNS, columnOf, type SourceKind } from '../../vocabulary/quantities.ts';
import type { SettingValue } from '../../vocabulary/reading.ts';

const TABLES = ['holding', 'input'] as const;
export type RegisterTable = (typeof TABLES)[number];
/** Words of each table, from address 0 on. */
export type Registers = { readonly [Table in RegisterTable]: Uint16Array };

const place = { table: z.enum(TABLES), address: z.int(), type: z.string() };
const states = z.record(z.string(), z.union([z.string(), z.boolean()])).optional();
const register = z.object({
  quantity: z.string(),
  ...place,
  factor: z.number().default(1),
  absent: z.array(z.number()).optional(),
  states,
  scale_register: z.object(place).optional(),
});
const setting = z.object({ key: z.string(), ...place, factor: z.number().default(1), states });
const layoutSchema = z.object({
  word_order: z.enum(['high_first', 'low_first']),
  registers: z.array(register),
  settings: z.array(setting).default([]),
});
export type ProfileLayout = z.infer<typeof layoutSchema>;

const ROOM = 160;
/** The exponent that stands in a scale register. */
const SCALE = -1;

/** @param yaml a profile of the demo's own, which is in order */
export const readLayout = (yaml: string): ProfileLayout => layoutSchema.parse(parse(yaml));

/** @param values in the order of the vocabulary's columns; NaN = absent */
export function profileRegisters(
  layout: ProfileLayout,
  kind: SourceKind,
  values: Float64Array,
  settings: Readonly<Record<string, SettingValue>>,
): Registers {
  const registers = { holding: new Uint16Array(ROOM), input: new Uint16Array(ROOM) };
  for (const one of layout.registers) {
    const column = columnOf(kind, one.quantity);
    const value = column === undefined ? Number.NaN : values[column.index]!;
    const scale = one.scale_register === undefined ? 0 : SCALE;
    if (one.scale_register !== undefined) put(registers, layout, one.scale_register, SCALE);
    const word = column === undefined ? null : (COLUMNS[kind][column.index]?.words?.[value] ?? null);
    if (Number.isNaN(value)) {
      if (one.absent?.[0] !== undefined) put(registers, layout, one, one.absent[0]);
    } else put(registers, layout, one, word === null ? value / one.factor / 10 ** scale : codeOf(one.states, word));
  }
  for (const one of layout.settings) {
    const value = settings[one.key];
    if (value === undefined || value === null) continue;
    if (one.states !== undefined) put(registers, layout, one, codeOf(one.states, value));
    else put(registers, layout, one, typeof value === 'number' ? value / one.factor : value);
  }
  return registers;
}

/** The number that a word has at this device; one it has none for is 0. */
function codeOf(words: z.infer<typeof states>, value: SettingValue): number {
  return Number(Object.entries(words ?? {}).find(([, word]) => word === value)?.[0] ?? 0);
}

function put(
  registers: Registers,
  { word_order }: ProfileLayout,
  { table, address, type }: { table: RegisterTable; address: number; type: string },
  value: SettingValue,
): void {
  const words = wordsOf(type, value);
  registers[table].set(word_order === 'low_first' && !type.startsWith('string') ? words.toReversed() : words, address);
}

/** High word first. */
function wordsOf(type: string, value: SettingValue): readonly number[] {
  const length = /^string\((\d+)\)$/.exec(type)?.[1];
  if (length !== undefined) return textWords(String(value), Number(length));
  const number = Number(value);
  const view = new DataView(new ArrayBuffer(4));
  if (type === 'float32') view.setFloat32(0, number);
  else view.setInt32(0, Math.round(number));
  const words = [view.getUint16(0), view.getUint16(2)];
  return type.endsWith('16') ? words.slice(1) : words;
}

/** Two characters a register, filled up with zeros. */
export function textWords(text: string, registers: number): number[] {
  return Array.from({ length: registers }, (_, i) => (at(text, 2 * i) << 8) | at(text, 2 * i + 1));
}

const at = (text: string, i: number): number => (i < text.length ? text.charCodeAt(i) & 0xff : 0);
