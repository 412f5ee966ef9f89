/** One look at a device: everything is read as a source would read it, and told as it came and as it was understood. */
import { COLUMNS, fromStored } from '../../vocabulary/quantities.ts';
import type { Refusal } from '../../vocabulary/refusal.ts';
import type { CurrentSign, DeviceConfig } from '../../wire/modbus/device-config.ts';
import { createDeviceReader } from '../../wire/modbus/device-reader.ts';
import type { DeviceReader, FoundModel, OpenResult } from '../../wire/modbus/device-talk.ts';
import type { Dialogue, ReadAnswer, RegisterRead, RegisterTable } from '../../wire/modbus/dialogue.ts';
import type { PollResult, SourceReading } from '../../wire/modbus/poll-result.ts';
import type { Profile } from '../../wire/modbus/profile.ts';
import { type BatterySample, proposeCurrentSign } from '../../wire/modbus/propose-current-sign.ts';
import { type Proposal, proposeWordOrder } from '../../wire/modbus/propose-word-order.ts';
import type { Order } from '../../wire/modbus/raw-value.ts';
import { RegisterImage } from '../../wire/modbus/register-image.ts';
import { RegisterReader } from '../../wire/modbus/register-reader.ts';
import { pointRows, profileRows, type ValueRow, wordSamples } from '../../wire/modbus/value-rows.ts';

type Fault = Omit<Refusal, 'where'>;

/** Asks the device once. */
export type Ask = (read: RegisterRead) => Promise<ReadAnswer>;

export interface ProbeAsk {
  /** Null: SunSpec. */
  readonly profile: Profile | null;
  /** SunSpec: where its chain may begin besides the usual places. */
  readonly base: number | null;
  /** SunSpec 803: these strings, from 1, as a pack each; empty: the battery as one pack. */
  readonly strings: readonly number[];
  /** How often it is read, from 1. */
  readonly reads: number;
}

export interface ProbeReading {
  readonly source: string;
  readonly values: Readonly<Record<string, number | string>>;
  readonly extras: Readonly<Record<string, unknown>>;
  readonly settings: Readonly<Record<string, unknown>>;
}

export interface ProbeReport {
  /** Whether the device gave any answer. */
  readonly isAnswering: boolean;
  /** Null where it could be opened. */
  readonly trouble: Fault | null;
  readonly models: readonly FoundModel[];
  /** Of the last read. */
  readonly rows: readonly ValueRow[];
  /** One for each read, each of every source. */
  readonly polls: readonly {
    readonly t: number;
    readonly refused: number;
    readonly readings: readonly ProbeReading[];
  }[];
  /** Null where the standard fixes it. */
  readonly wordOrder: Proposal<Order> | null;
  readonly currentSign: Proposal<CurrentSign>;
  readonly notes: readonly Fault[];
}

/** A name for each source that a device could carry, while nobody has given it one. */
const SITE = 'probe';
const MOST_ATTEMPTS = 8;
const INVERTER_MODELS: ReadonlySet<number> = new Set([101, 102, 103, 111, 112, 113, 701, 713]);
const BATTERY_MODELS: ReadonlySet<number> = new Set([802, 803]);

async function converse<Result>(dialogue: Dialogue<Result>, ask: Ask): Promise<Result> {
  let step = dialogue.next();
  while (step.done !== true) step = dialogue.next(await ask(step.value));
  return step.value;
}

function configOf({ profile, base, strings }: ProbeAsk, models: readonly FoundModel[] | null): DeviceConfig {
  if (profile !== null) {
    const kinds = (['unit', 'pack', 'bank', 'meter'] as const).filter((kind) =>
      profile.registers.some(({ quantity }) => COLUMNS[kind].some(({ id }) => id === quantity)),
    );
    const carried = Object.fromEntries(kinds.map((kind) => [kind, kind]));
    // Settings are those of a unit: a profile of nothing else has it for them.
    return { site: SITE, ...(profile.settings.length > 0 ? { unit: 'unit' } : {}), ...carried, reads: { profile } };
  }
  const has = (wanted: ReadonlySet<number>): boolean =>
    models === null || models.some(({ model }) => wanted.has(model));
  const packs = strings.length > 0 ? { packs: strings.map((k) => `string-${k}`), strings } : { pack: 'pack' };
  return {
    site: SITE,
    reads: 'sunspec',
    ...(base === null ? {} : { base }),
    ...(has(INVERTER_MODELS) ? { unit: 'unit' } : {}),
    ...(has(BATTERY_MODELS) ? packs : {}),
  };
}

/** A first silence may be that of one base of SunSpec: every attempt tries another. */
async function openDevice(reader: DeviceReader, ask: Ask): Promise<OpenResult> {
  let opened = await converse(reader.open(), ask);
  for (let attempt = 1; opened.state === 'silent' && attempt < MOST_ATTEMPTS; attempt += 1)
    opened = await converse(reader.open(), ask);
  return opened;
}

const NO_ANSWER: Fault = {
  what: 'the device gives no answer',
  remedy:
    'check its unit address, the cabling, and of a serial line baud and parity; raise --timeout-ms for slow gateways',
};

/**
 * Opens a device, reads it `reads` times, and proposes what cannot be known from one look.
 *
 * @param pause  waits between two reads
 */
export async function probeDevice(
  asked: ProbeAsk,
  ask: Ask,
  nowMs: () => number,
  pause: () => Promise<void>,
): Promise<ProbeReport> {
  let image = new RegisterImage();
  let isAnswering = false;
  const heard: Ask = async (read) => {
    const answer = await ask(read);
    if (answer.ok) image.put(read, answer.words);
    isAnswering ||= answer.ok || answer.exception !== null;
    return answer;
  };
  let reader = createDeviceReader(configOf(asked, null));
  let opened = await openDevice(reader, heard);
  if (opened.state === 'open' && asked.profile === null) {
    // Now that it is known what the device is, what it is not needs no word.
    reader = createDeviceReader(configOf(asked, opened.models));
    opened = await openDevice(reader, heard);
  }
  if (opened.state !== 'open')
    return { ...EMPTY_REPORT, isAnswering, trouble: opened.state === 'silent' ? NO_ANSWER : opened.fault };
  const results: { readonly t: number; readonly result: PollResult }[] = [];
  const images: RegisterImage[] = [];
  for (let k = 0; k < asked.reads; k += 1) {
    if (k > 0) await pause();
    image = new RegisterImage();
    const t = nowMs();
    results.push({ t, result: await converse(reader.poll(t), heard) });
    images.push(image);
  }
  const { profile } = asked;
  // Settings are read with the first poll only.
  const last = images.at(-1) ?? image;
  return {
    isAnswering,
    trouble: isAnswering ? null : NO_ANSWER,
    models: opened.models,
    rows: profile === null ? pointRows(opened.models, last) : profileRows(profile, RegisterImage.joined(images)),
    polls: results.map(({ t, result }) => ({
      t,
      refused: result.refused,
      readings: result.readings.map(plainReading),
    })),
    wordOrder: profile === null ? null : proposeWordOrder(wordSamples(profile, images)),
    currentSign: proposeCurrentSign(results.map(({ result }) => sampleOf(result.readings.map(plainReading)))),
    notes: [...opened.notes, ...results.flatMap(({ result }) => result.notes)],
  };
}

const EMPTY_REPORT: ProbeReport = {
  ...{ isAnswering: false, trouble: null, models: [], rows: [], polls: [], wordOrder: null, notes: [] },
  currentSign: { says: null, because: 'no battery current was read' },
};

function plainReading({ source, values, extras, settings }: SourceReading): ProbeReading {
  const named: Record<string, number | string> = {};
  for (let k = 0; k < values.length; k += 2) {
    const column = COLUMNS[source.kind][values[k]!]!;
    const stored = values[k + 1]!;
    named[column.id] = column.words?.[stored] ?? fromStored(column.decimals, stored);
  }
  return { source: `${source.kind} ${source.id}`, values: named, extras: extras ?? {}, settings: settings ?? {} };
}

function sampleOf(readings: readonly ProbeReading[]): BatterySample {
  const number = (id: string): number | null => {
    const found = readings
      .map(({ values, extras }) => values[id] ?? extras[id])
      .find((each) => typeof each === 'number');
    return typeof found === 'number' ? found : null;
  };
  const word = (id: string): string | null => {
    const found = readings.map(({ values }) => values[id]).find((each) => typeof each === 'string');
    return typeof found === 'string' ? found : null;
  };
  return {
    currentA: number('pack_current_a') ?? number('A') ?? number('StrA') ?? number('bank_current_a'),
    state: word('pack_state'),
    socPct: number('soc_pct') ?? number('bank_soc_pct'),
    mode: word('mode'),
    outputPowerW: number('output_power_w'),
    pvPowerW: number('pv_power_w'),
  };
}

export interface RegisterRange {
  readonly table: RegisterTable;
  readonly first: number;
  readonly last: number;
}

/** So many rounds: a device that refuses much is split a little further in each. */
const MOST_ROUNDS = 40;

/**
 * Reads whole ranges, for somebody who writes a profile: each register as it came, those that are not there left out.
 */
export async function readRanges(ranges: readonly RegisterRange[], ask: Ask): Promise<readonly ValueRow[]> {
  const spans = ranges.flatMap(({ table, first, last }) =>
    Array.from({ length: last - first + 1 }, (_, k) => ({ table, address: first + k, count: 1, group: '' })),
  );
  const reader = new RegisterReader(spans);
  const images: RegisterImage[] = [];
  for (let round = 0; round < MOST_ROUNDS; round += 1) {
    const { image, isWhole, isAnswering } = await converse(reader.read(), ask);
    images.push(image);
    if (isWhole || !isAnswering) break;
  }
  const image = RegisterImage.joined(images);
  return spans.flatMap((span): ValueRow[] => {
    const word = image.at(span)?.[0];
    if (word === undefined) return [];
    const { table, address } = span;
    return [{ name: `${table} ${address}`, table, address, words: [word], raw: word, value: word, why: null }];
  });
}
