/** Mistakes of a register profile that no single key can tell. Whatever was written, it is looked at: all mistakes at once. */
import { COLUMNS, columnOf, SOURCE_KINDS } from '../../vocabulary/quantities.ts';
import { quoteValue } from '../quote-value.ts';
import type { Path } from '../yaml-mistakes.ts';
import { type RawType, rawTypeOf } from './raw-value.ts';

export type Report = (path: Path, what: string, remedy: string) => void;
type Fields = Readonly<Record<string, unknown>>;

const LAST_ADDRESS = 65_535;
const WHOLE = /^-?\d+$/;

function isFields(value: unknown): value is Fields {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

const isBitTable = (table: unknown): boolean => table === 'coil' || table === 'discrete';

/** Ids that begin like the one written, else an example. */
function quantityRemedy(written: string): string {
  const ids = [...new Set(SOURCE_KINDS.flatMap((kind) => COLUMNS[kind].map(({ id }) => id)))];
  const head = written.toLowerCase().split('_')[0] ?? '';
  const near = ids.filter((id) => head !== '' && id.startsWith(head));
  return near.length > 0 && near.length <= 16
    ? `use one of ${near.join(', ')}`
    : 'use an id of the vocabulary, for example output_power_w, grid_voltage_v or soc_pct';
}

/** Type and table of a register or scale register; null where either is wrong or not there, which is reported. */
function checkPlace(entry: Fields, path: Path, report: Report): RawType | null {
  const { table, type, address } = entry;
  if (isBitTable(table)) {
    if (type !== undefined && type !== 'uint16')
      report([...path, 'type'], `a ${String(table)} has no type ${quoteValue(type)}`, 'take type out: it is 0 or 1');
    return { number: 'uint16', registers: 1 };
  }
  if (type === undefined) {
    report(path, 'type is missing', 'add the type of the value, for example type: int16');
    return null;
  }
  const raw = typeof type === 'string' ? rawTypeOf(type) : null;
  if (raw !== null && typeof address === 'number' && address + raw.registers - 1 > LAST_ADDRESS)
    report(
      [...path, 'address'],
      `${String(type)} at ${address} ends beyond the last address, 65535`,
      'correct the address',
    );
  return raw;
}

function checkBits({ bits, table }: Fields, raw: RawType, path: Path, report: Report): void {
  if (!Array.isArray(bits)) return;
  const at = [...path, 'bits'];
  const [first, last]: readonly unknown[] = bits;
  if (raw.number === null || raw.number.startsWith('float'))
    report(at, 'bits of a text or a float have no meaning of their own', 'take bits out, or give an integer type');
  else if (isBitTable(table)) report(at, `a ${String(table)} is one bit`, 'take bits out');
  else if (typeof first === 'number' && typeof last === 'number') {
    const most = raw.registers * 16 - 1;
    if (first > last) report(at, `bits run from ${first} to ${last}`, 'give the lower one first: [0, 7]');
    else if (last > most)
      report(at, `bit ${last} is none of ${raw.registers * 16} bits`, `give bits from 0 to ${most}`);
  }
}

function checkStates(states: unknown, path: Path, report: Report): void {
  if (!isFields(states)) return;
  for (const key of Object.keys(states)) {
    if (!WHOLE.test(key))
      report(
        [...path, 'states', key],
        `${quoteValue(key)} is no raw value`,
        'give a whole number, as it stands in the register',
      );
  }
}

/** What registers and settings share. @param isNumber  false: the value is a word; null: not known */
function checkEntry(entry: Fields, path: Path, isNumber: boolean | null, report: Report): void {
  const raw = checkPlace(entry, path, report);
  if (isFields(entry.scale_register)) {
    const at = [...path, 'scale_register'];
    const scale = checkPlace(entry.scale_register, at, report);
    if (
      scale !== null &&
      (scale.number === null || scale.number.startsWith('float') || isBitTable(entry.scale_register.table))
    )
      report(at, 'the exponent is no integer', 'give an integer type, most often int16');
  }
  checkStates(entry.states, path, report);
  if (raw === null) return;
  checkBits(entry, raw, path, report);
  const isWord = entry.states !== undefined || isNumber === false || raw.number === null;
  for (const key of ['factor', 'scale_register']) {
    if (isWord && entry[key] !== undefined)
      report(
        [...path, key],
        `${key} of a value that is no number`,
        'take it out: states are compared with the raw value',
      );
  }
  if (raw.number === null && entry.absent !== undefined)
    report([...path, 'absent'], 'a text has no raw value to compare', 'take absent out: an empty text is absent');
}

function checkRegister(register: Fields, path: Path, report: Report): void {
  const { quantity, states, type } = register;
  if (typeof quantity !== 'string' || quantity === '') {
    checkEntry(register, path, null, report);
    return;
  }
  const column = SOURCE_KINDS.map((kind) => columnOf(kind, quantity)).find((found) => found !== undefined);
  if (column === undefined) {
    report([...path, 'quantity'], `${quoteValue(quantity)} is no quantity`, quantityRemedy(quantity));
    checkEntry(register, path, null, report);
    return;
  }
  const { words } = column;
  checkEntry(register, path, words === null, report);
  if (words === null) {
    if (states !== undefined)
      report([...path, 'states'], `${quantity} is a number`, 'take states out: only mode and pack_state have words');
    if (typeof type === 'string' && rawTypeOf(type)?.number === null)
      report([...path, 'type'], `${quantity} is a number, and ${type} a text`, 'give the type of a number');
    return;
  }
  if (states === undefined)
    report(path, `${quantity} has no states`, `add which raw value means what: { 0: ${words[0]}, 1: ${words[1]} }`);
  if (!isFields(states)) return;
  for (const [key, word] of Object.entries(states)) {
    if (typeof word === 'string' && !words.includes(word))
      report([...path, 'states', key], `${quantity} knows no ${quoteValue(word)}`, `use one of ${words.join(', ')}`);
  }
}

/** Reports names that stand twice in a list. */
function checkOnce(entries: readonly unknown[], key: string, path: Path, report: Report): void {
  const seen = new Set<unknown>();
  for (const [k, entry] of entries.entries()) {
    const name = isFields(entry) ? entry[key] : undefined;
    if (typeof name !== 'string') continue;
    if (seen.has(name))
      report([...path, k, key], `${quoteValue(name)} is given twice`, 'keep one: a poll has one value of each');
    seen.add(name);
  }
}

/** @param profile  as it was written, whether a schema takes it or not */
export function checkProfile(profile: unknown, report: Report): void {
  if (!isFields(profile)) return;
  const { registers, settings } = profile;
  if (Array.isArray(registers)) {
    for (const [k, register] of registers.entries())
      if (isFields(register)) checkRegister(register, ['registers', k], report);
    checkOnce(registers, 'quantity', ['registers'], report);
  }
  if (Array.isArray(settings)) {
    for (const [k, setting] of settings.entries())
      if (isFields(setting)) checkEntry(setting, ['settings', k], null, report);
    checkOnce(settings, 'key', ['settings'], report);
  }
}
