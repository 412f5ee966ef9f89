/** `kilter probe`: reads one Modbus device, and shows what came and how it is understood. */
import type { LinkAnswer } from '../sources/modbus/modbus-link.ts';
import { type ModbusTarget, sayTarget } from '../sources/modbus/modbus-target.ts';
import {
  type Ask,
  type ProbeReport,
  probeDevice,
  type RegisterRange,
  readRanges,
} from '../sources/modbus/probe-device.ts';
import { profileSchemaText, readProfile } from '../sources/modbus/profile-file.ts';
import { createRecorder, openRecording } from '../sources/modbus/recording-file.ts';
import type { Command, Io } from './command.ts';
import { reportJson, reportLines, rowJson, rowLines } from './probe-lines.ts';
import {
  DEFAULT_ADDRESS,
  PROBE,
  PROBE_OPTIONS,
  type ProbeNumbers,
  readNumbers,
  readRangesOption,
  readWay,
} from './probe-options.ts';
import { readOptions, refuseRest } from './read-options.ts';

/** A connection to devices, for this one look. */
export interface ProbeLink {
  read(unitAddress: number, read: Parameters<Ask>[0]): Promise<LinkAnswer>;
  close(): Promise<void>;
}

export type OpenLink = (target: ModbusTarget, options: { readonly timeoutMs: number }) => ProbeLink;

const USAGE = `Usage: kilter probe (--tcp HOST:PORT | --rtu-over-tcp HOST:PORT | --serial PATH | --replay FILE)
                    [--address 1] [--profile FILE | --registers RANGES] [--record FILE] [--json]
       kilter probe --profile-schema

Reads one Modbus device, never writes to it, and shows each value as it came and as it is understood:
by the SunSpec models that it says it has, or with --profile by a register profile. It is read twice,
so that the word order of a profile and the sign of a battery current can be proposed; where they
cannot be told from what was seen, it says so.

  --tcp HOST:PORT       Modbus TCP; without a port 502
  --rtu-over-tcp …      RTU frames through a gateway
  --serial PATH         a serial port, with --baud 9600 and --parity none, even or odd
  --address N           unit address of the device; without it 1
  --profile FILE        a register profile (YAML); every mistake in it is said with line and column
  --registers RANGES    whole ranges as they are, to find out what is where: holding:0-99,input:30-40
  --base N              SunSpec: where the chain begins, besides 40000, 50000 and 0
  --strings 1,2         SunSpec model 803: these strings as a pack each
  --reads 2, --every 5s how often it is read, and the pause between
  --timeout-ms 1000     how long an answer may take
  --record FILE         keeps every question and answer, as JSON lines, in a new file
  --replay FILE         asks such a file instead of a device: a profile can be tried away from the site
  --json                one JSON object a line; its kind tells what it is
  --profile-schema      prints the JSON Schema of a register profile, for editors

It exits 0 if values were read, 1 if none were, 2 if some were not taken.

Examples:
  kilter probe --tcp 192.168.0.10:502 --address 3 --record u3.jsonl
  kilter probe --replay u3.jsonl --profile two-column.yaml`;

interface Probed {
  readonly ask: Ask;
  readonly nowMs: () => number;
  readonly pause: () => Promise<void>;
  /** What the link said of the last request that failed, or null. */
  readonly trouble: () => string | null;
  close(): Promise<readonly string[]>;
}

async function run(openLink: OpenLink, args: readonly string[], io: Io): Promise<number> {
  const { options, rest } = readOptions(PROBE, PROBE_OPTIONS, args);
  refuseRest(PROBE, rest);
  if (options['profile-schema']) {
    io.out(profileSchemaText());
    return 0;
  }
  const way = readWay(options);
  const numbers = readNumbers(options);
  const ranges = options.registers === undefined ? null : readRangesOption(options.registers);
  const profile = options.profile === undefined ? null : readProfile(options.profile);
  const probed =
    way.kind === 'replay'
      ? replayed(way.file, numbers.address)
      : linked(openLink(way, numbers), way, numbers, options.record ?? null, io);
  let code = 1;
  try {
    if (ranges !== null) code = await printRanges(ranges, probed, options.json, io);
    else {
      const report = await probeDevice({ ...numbers, profile }, probed.ask, probed.nowMs, probed.pause);
      code = printReport(report, probed, options.json, io);
    }
  } finally {
    for (const line of await probed.close()) io.err(line);
  }
  return code;
}

function replayed(file: string, address: number | null): Probed {
  const recording = openRecording(file, address);
  return {
    ask: recording.ask,
    nowMs: () => recording.t,
    pause: () => Promise.resolve(),
    trouble: () => null,
    close: () => {
      const missing = recording.missing();
      const more = missing.length > 1 ? ` and ${missing.length - 1} more` : '';
      const [first] = missing;
      return Promise.resolve(
        first === undefined
          ? []
          : [`${file}: ${first.table} ${first.address}${more} is not in the recording, and reads as not there`],
      );
    },
  };
}

function linked(link: ProbeLink, target: ModbusTarget, numbers: ProbeNumbers, record: string | null, io: Io): Probed {
  const address = numbers.address ?? DEFAULT_ADDRESS;
  let trouble: string | null = null;
  const askLink: Ask = async (read) => {
    const answer = await link.read(address, read);
    if (!answer.ok && answer.exception === null) trouble = `${sayTarget(target)}: ${answer.why}`;
    return answer;
  };
  const recorder = record === null ? null : createRecorder(record, address, askLink, io.now);
  let stop: () => void = () => {};
  const stopped = new Promise<void>((resolve) => {
    stop = resolve;
  });
  io.onStop(stop);
  return {
    ask: recorder?.ask ?? askLink,
    nowMs: io.now,
    async pause() {
      io.err(`read again in ${numbers.pauseMs / 1000} s`);
      let timer: NodeJS.Timeout | undefined;
      const waited = new Promise<void>((resolve) => {
        timer = setTimeout(resolve, numbers.pauseMs);
      });
      await Promise.race([waited, stopped]);
      clearTimeout(timer);
    },
    trouble: () => trouble,
    async close() {
      recorder?.close();
      await link.close();
      return record === null ? [] : [`${record}: recorded; kilter probe --replay ${record} reads it again`];
    },
  };
}

function printReport(report: ProbeReport, probed: Probed, isJson: boolean, io: Io): number {
  for (const line of isJson ? reportJson(report) : reportLines(report, io.columns)) io.out(line);
  const trouble = probed.trouble();
  if (!report.isAnswering && trouble !== null) io.err(trouble);
  const hasValues = report.polls.some(({ readings }) =>
    readings.some(({ values, extras }) => Object.keys(values).length + Object.keys(extras).length > 0),
  );
  if (!hasValues) return 1;
  return report.polls.some(({ refused }) => refused > 0) ? 2 : 0;
}

async function printRanges(ranges: readonly RegisterRange[], probed: Probed, isJson: boolean, io: Io): Promise<number> {
  const rows = await readRanges(ranges, probed.ask);
  for (const line of isJson ? rows.map(rowJson) : rowLines(rows, io.columns)) io.out(line);
  const trouble = probed.trouble();
  if (trouble !== null) io.err(trouble);
  return rows.length > 0 ? 0 : 1;
}

/** @param openLink  connects to where devices are; nothing is asked before it is used */
export function probeCommand(openLink: OpenLink): Command {
  return {
    name: PROBE,
    summary: 'reads one Modbus device and shows what came and how it is understood',
    usage: USAGE,
    run: (args, io) => run(openLink, args, io),
  };
}
