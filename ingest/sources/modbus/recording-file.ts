/** Recordings of talks with a device, as files. */
import { closeSync, openSync, readFileSync, writeSync } from 'node:fs';
import { NeedsOperator } from '../../vocabulary/refusal.ts';
import type { ReadAnswer, RegisterRead } from '../../wire/modbus/dialogue.ts';
import { parseRecording, RecordedDevice, type RecordedRead, recordedLine } from '../../wire/modbus/recorded-session.ts';
import type { Ask } from './probe-device.ts';

function broken(file: string, error: unknown, remedy: string): NeedsOperator {
  const what = error instanceof Error ? error.message : String(error);
  return new NeedsOperator({ where: file, what, remedy }, { cause: error });
}

export interface Recorder {
  /** Asks as `ask` does, and keeps question and answer; each line is written as it comes. */
  readonly ask: Ask;
  close(): void;
}

/** @throws NeedsOperator where the file is there already, or cannot be written */
export function createRecorder(file: string, address: number, ask: Ask, nowMs: () => number): Recorder {
  let handle: number;
  try {
    // A recording from a site may not be had again: it is never written over.
    handle = openSync(file, 'wx');
  } catch (error) {
    throw broken(file, error, 'name a file that is not there yet, in a folder that can be written');
  }
  return {
    async ask(read) {
      const t = nowMs();
      const answer = await ask(read);
      writeSync(handle, `${recordedLine({ t, address, read, answer })}\n`);
      return answer;
    },
    close: () => closeSync(handle),
  };
}

export interface Replay {
  readonly ask: Ask;
  /** Epoch ms of the first read. */
  readonly t: number;
  /** Reads that nothing in the recording can answer. */
  missing(): readonly RegisterRead[];
}

/**
 * @param address  unit address; null: the only one in the recording
 * @throws NeedsOperator where it cannot be read, holds something else, or several devices of which none is named
 */
export function openRecording(file: string, address: number | null): Replay {
  let text: string;
  try {
    text = readFileSync(file, 'utf8');
  } catch (error) {
    throw broken(file, error, 'name a file that kilter probe --record wrote');
  }
  const { reads, faults } = parseRecording(text);
  const [fault] = faults;
  if (fault !== undefined) {
    const what = faults.length === 1 ? fault.what : `${fault.what} (and ${faults.length - 1} more lines are wrong)`;
    throw new NeedsOperator({ where: `${file}, line ${fault.line}`, what, remedy: fault.remedy });
  }
  const device = new RecordedDevice(reads, addressIn(reads, file, address));
  return {
    ask: (read): Promise<ReadAnswer> => Promise.resolve(device.answer(read)),
    t: reads[0]?.t ?? 0,
    missing: () => device.missing,
  };
}

function addressIn(reads: readonly RecordedRead[], file: string, address: number | null): number {
  const known = [...new Set(reads.map((read) => read.address))];
  const [first] = known;
  if (first === undefined)
    throw new NeedsOperator({
      where: file,
      what: 'it holds no reads',
      remedy: 'name a file that kilter probe --record wrote',
    });
  if (address === null && known.length > 1)
    throw new NeedsOperator({
      where: file,
      what: `it holds the devices ${known.join(', ')}`,
      remedy: 'name one: --address',
    });
  if (address !== null && !known.includes(address))
    throw new NeedsOperator({
      where: file,
      what: `it holds no device at address ${address}`,
      remedy: `name one of ${known.join(', ')}`,
    });
  return address ?? first;
}
