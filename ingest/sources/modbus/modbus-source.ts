/** The Modbus devices of one link as a live source: polled in a fixed cadence, their readings handed to the door. */
import type { LiveDoor } from '../../intake/live-door.ts';
import type { DevicePart, SourceStatus } from '../../vocabulary/source-status.ts';
import { epochMs } from '../../vocabulary/time.ts';
import { BatchBuilder } from '../../wire/batch-builder.ts';
import type { Fault } from '../../wire/line-meaning.ts';
import { addPoll, type PollResult } from '../../wire/modbus/poll-result.ts';
import type { LiveSource } from '../live-source.ts';
import { createSourceGauge, type SourceGauge } from '../source-gauge.ts';
import { BatchKeeper } from './_batch-keeper.ts';
import { type Clock, DeviceRun } from './_device-run.ts';
import { PollRounds } from './_poll-rounds.ts';
import type { ModbusConfig, ModbusDevice } from './modbus-config.ts';
import { createModbusLink, type ModbusLink } from './modbus-link.ts';

export interface ModbusHouse {
  nowMs(): number;
  /** A line for whoever watches the process. */
  say(line: string): void;
  /** Monotonic time and waiting; by default the process's own. */
  readonly clock?: Omit<Clock, 'nowMs'>;
  /** Opens the link; by default a real one. */
  openLink?(config: ModbusConfig, gauge: SourceGauge): ModbusLink;
}

/** What is being stored gets so long when the source stops. */
const STORE_AT_STOP_MS = 2500;
/** Rounds that are too slow are said when it begins, and then once in so long. */
const SLOW_SAID_EVERY_MS = 600_000;

const processClock: Omit<Clock, 'nowMs'> = {
  elapsedMs: () => performance.now(),
  wait: (ms, signal) =>
    new Promise((resolve) => {
      if (signal.aborted) {
        resolve();
        return;
      }
      const end = (): void => {
        clearTimeout(timer);
        signal.removeEventListener('abort', end);
        resolve();
      };
      const timer = setTimeout(end, Math.min(ms, 2 ** 31 - 1));
      signal.addEventListener('abort', end);
    }),
};

export function createModbusSource(config: ModbusConfig, door: LiveDoor, house: ModbusHouse): LiveSource {
  return new ModbusSource(config, door, house);
}

class ModbusSource implements LiveSource {
  readonly name: string;
  readonly #house: ModbusHouse;
  readonly #gauge: SourceGauge;
  readonly #link: ModbusLink;
  readonly #keeper: BatchKeeper;
  readonly #rounds: PollRounds;
  readonly #runs: readonly DeviceRun[];
  readonly #builder = new BatchBuilder();
  readonly #stop = new AbortController();
  #hasReadings = false;
  #running: Promise<void> | null = null;
  #storeTrouble: string | null = null;
  #thinned = 0;
  #skipped = 0;
  #repeated = 0;
  #slowSaidAtMs = Number.NEGATIVE_INFINITY;

  constructor(config: ModbusConfig, door: LiveDoor, house: ModbusHouse) {
    const { everyMs, timeoutMs, target } = config;
    const signal = this.#stop.signal;
    const clock: Clock = { ...(house.clock ?? processClock), nowMs: () => Math.round(house.nowMs()) };
    this.name = config.name;
    this.#house = house;
    this.#gauge = createSourceGauge(config.name, 'modbus', () => house.nowMs());
    this.#link =
      house.openLink?.(config, this.#gauge) ??
      createModbusLink(
        target,
        { timeoutMs },
        {
          nowMs: clock.nowMs,
          refused: (one) => this.#gauge.refused({ ...one, where: `${config.name}, ${one.where}` }),
        },
      );
    const link = this.#link;
    this.#keeper = new BatchKeeper(door, {
      stored: (batch) => this.#gauge.stored(batch),
      trouble: (why) => this.#storeRefuses(why),
      thinned: (readings) => this.#gaveUp(readings),
    });
    const runHouse = {
      link,
      clock,
      everyMs,
      timeoutMs,
      signal,
      polled: (result: PollResult, tMs: number) => {
        this.#hasReadings = addPoll(this.#builder, result, tMs) > 0 || this.#hasReadings;
      },
      noted: (device: ModbusDevice, faults: readonly Fault[], count: number) => this.#noted(device, faults, count),
    };
    this.#runs = config.devices.map((device) => new DeviceRun(device, runHouse));
    this.#rounds = new PollRounds(this.#runs, {
      link,
      clock,
      everyMs,
      timeoutMs,
      signal,
      afterPolls: () => this.#handOn(),
      skipped: (rounds, tookMs) => this.#wasSlow(rounds, tookMs, everyMs),
    });
  }

  start(): void {
    this.#running ??= this.#rounds.run().catch((error: unknown) => {
      this.#house.say(`${this.name}: polling ended: ${error instanceof Error ? error.message : String(error)}`);
    });
  }

  async stop(): Promise<void> {
    this.#stop.abort();
    await this.#link.close();
    await this.#running;
    this.#handOn();
    let timer: NodeJS.Timeout | undefined;
    const late = new Promise<void>((resolve) => {
      timer = setTimeout(resolve, STORE_AT_STOP_MS);
    });
    await Promise.race([this.#keeper.finish(), late]);
    clearTimeout(timer);
    if (this.#keeper.waiting > 0)
      this.#house.say(
        `${this.name}: ${this.#keeper.waiting} readings could not be stored before the stop and are lost`,
      );
  }

  status(): SourceStatus {
    const { isConnected, trouble } = this.#link.status();
    const isGone = this.#rounds.isGone;
    // A peer that closes after each answer is no peer that is away.
    const answers = !isGone && this.#runs.some((run) => run.isHeard);
    const said =
      this.#storeTrouble ?? (isGone || !isConnected ? (answers ? null : trouble) : null) ?? this.#slowTrouble();
    if (isConnected || answers) this.#gauge.connected();
    else this.#gauge.broken(trouble ?? 'no connection yet');
    const parts = this.#runs.map((run): DevicePart => {
      const { lastReadingAtMs } = run;
      return {
        name: run.device.name,
        isAnswering: run.isHeard && !isGone,
        lastReadingAt: lastReadingAtMs === null ? null : epochMs(lastReadingAtMs),
        trouble: isGone ? (trouble ?? run.trouble) : run.trouble,
      };
    });
    const status = this.#gauge.status(parts);
    return { ...status, refused: status.refused + this.#repeated, trouble: said };
  }

  #handOn(): void {
    if (!this.#hasReadings) return;
    this.#hasReadings = false;
    this.#keeper.offer(this.#builder.finish());
  }

  /** @param count  values that were not taken; each fault stands for one at least */
  #noted(device: ModbusDevice, faults: readonly Fault[], count: number): void {
    for (const [i, { what, remedy }] of faults.entries()) {
      this.#house.say(`${this.name}: ${device.name}: ${what}; ${remedy}`);
      this.#gauge.refused({ where: device.name, what, remedy }, i === 0 ? count : 0);
    }
    // What was said before is counted on, and not sampled again at every poll.
    if (faults.length === 0) this.#repeated += count;
  }

  #storeRefuses(why: string | null): void {
    if (why === null) this.#house.say(`${this.name}: readings are stored again`);
    else if (this.#storeTrouble === null)
      this.#house.say(`${this.name}: readings can't be stored: ${why}; they are kept in memory and offered again`);
    this.#storeTrouble =
      why === null
        ? null
        : `readings can't be stored: ${why}; ${this.#keeper.waiting} are kept in memory${this.#thinned > 0 ? `, ${this.#thinned} were given up` : ''}`;
  }

  #gaveUp(readings: number): void {
    if (this.#thinned === 0)
      this.#house.say(`${this.name}: no more readings can be kept in memory: the oldest are thinned out, and counted`);
    this.#thinned += readings;
    const what = `${readings} readings were given up: no more can be kept while the store takes none`;
    this.#gauge.refused({ where: this.name, what, remedy: 'make room on the disk of the store' }, readings);
  }

  #wasSlow(rounds: number, tookMs: number, everyMs: number): void {
    this.#skipped += rounds;
    const nowMs = this.#house.nowMs();
    if (Math.abs(nowMs - this.#slowSaidAtMs) < SLOW_SAID_EVERY_MS) return;
    this.#slowSaidAtMs = nowMs;
    this.#house.say(
      `${this.name}: a round took ${Math.round(tookMs)} ms, longer than the ${everyMs} ms between two; ${this.#skipped} were left out so far`,
    );
  }

  #slowTrouble(): string | null {
    if (Math.abs(this.#house.nowMs() - this.#slowSaidAtMs) >= SLOW_SAID_EVERY_MS) return null;
    return `${this.#skipped} rounds were left out, because the devices take longer than the time between two`;
  }
}
