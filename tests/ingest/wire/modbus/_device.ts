import { COLUMNS, fromStored } from '../../../../ingest/vocabulary/quantities.ts';
import type { DeviceReader } from '../../../../ingest/wire/modbus/device-reader.ts';
import type { Dialogue, ReadAnswer, RegisterRead, RegisterTable } from '../../../../ingest/wire/modbus/dialogue.ts';
import type { PollResult, SourceReading } from '../../../../ingest/wire/modbus/poll-result.ts';

/** A device in memory: what it was asked, and how it answers. */
export interface MemoryDevice {
  readonly words: Map<string, number>;
  readonly asked: RegisterRead[];
  /** Looked at before the registers; null: the registers answer. */
  quirk: (read: RegisterRead) => ReadAnswer | null;
  answer(read: RegisterRead): ReadAnswer;
  set(table: RegisterTable, address: number, ...words: readonly number[]): void;
}

export function createMemoryDevice(holding: Readonly<Record<number, readonly number[]>> = {}): MemoryDevice {
  const device: MemoryDevice = {
    words: new Map(),
    asked: [],
    quirk: () => null,
    answer(read) {
      device.asked.push(read);
      const odd = device.quirk(read);
      if (odd !== null) return odd;
      const words = Array.from({ length: read.count }, (_, k) => device.words.get(`${read.table} ${read.address + k}`));
      if (words.some((word) => word === undefined)) return { ok: false, exception: 2 };
      return { ok: true, words: Uint16Array.from(words as number[]) };
    },
    set(table, address, ...words) {
      for (const [k, word] of words.entries()) device.words.set(`${table} ${address + k}`, word & 0xffff);
    },
  };
  for (const [address, words] of Object.entries(holding)) device.set('holding', Number(address), ...words);
  return device;
}

/** Runs a talk to its end; a talk that asks without end fails. */
export function talk<Result>(dialogue: Dialogue<Result>, answer: (read: RegisterRead) => ReadAnswer): Result {
  let step = dialogue.next();
  for (let requests = 0; step.done !== true; requests += 1) {
    if (requests > 1000) throw new Error('the talk does not end');
    step = dialogue.next(answer(step.value));
  }
  return step.value;
}

/** Values of a reading by quantity, in their own units, words as words. */
export function valuesOf(reading: SourceReading | undefined): Record<string, number | string> {
  const values: Record<string, number | string> = {};
  if (reading === undefined) return values;
  for (let k = 0; k < reading.values.length; k += 2) {
    const column = COLUMNS[reading.source.kind][reading.values[k]!]!;
    const stored = reading.values[k + 1]!;
    values[column.id] = column.words === null ? fromStored(column.decimals, stored) : column.words[stored]!;
  }
  return values;
}

export function readingOf(result: PollResult, id: string): Record<string, number | string> {
  return valuesOf(result.readings.find(({ source }) => source.id === id));
}

/** Opens and polls once. */
export function pollOnce(reader: DeviceReader, device: MemoryDevice, tMs = 0): PollResult {
  const opened = talk(reader.open(), device.answer);
  if (opened.state !== 'open') throw new Error(`the device is ${JSON.stringify(opened)}`);
  return talk(reader.poll(tMs), device.answer);
}
