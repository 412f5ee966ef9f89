/** One device: its talk in steps of one request, and what is known of how it answers. */
import type { Fault } from '../../wire/line-meaning.ts';
import { createDeviceReader, type OpenResult } from '../../wire/modbus/device-reader.ts';
import type { Dialogue, ReadAnswer, RegisterRead } from '../../wire/modbus/dialogue.ts';
import type { PollResult } from '../../wire/modbus/poll-result.ts';
import { PollTimes } from './_poll-times.ts';
import type { ModbusDevice } from './modbus-config.ts';
import type { LinkAnswer, ModbusLink } from './modbus-link.ts';

/** The time, and waiting for it: given in, so that a test can make hours pass. */
export interface Clock {
  /** Epoch ms. */
  nowMs(): number;
  /** Ms that never step. */
  elapsedMs(): number;
  /** Resolves after `ms`, or when the signal says so. */
  wait(ms: number, signal: AbortSignal): Promise<void>;
}

export interface RunHouse {
  readonly link: ModbusLink;
  readonly clock: Clock;
  readonly everyMs: number;
  readonly timeoutMs: number;
  readonly signal: AbortSignal;
  /** Values of a poll, and when its first request was sent. */
  polled(result: PollResult, tMs: number): void;
  /** Something that people should know of a device. */
  noted(device: ModbusDevice, faults: readonly Fault[], count: number): void;
}

/** `gone`: the link itself is down, which is no fault of the device. */
export type Step = 'more' | 'done' | 'gone';

type Talk =
  | { readonly kind: 'open'; readonly dialogue: Dialogue<OpenResult> }
  | { readonly kind: 'poll'; readonly dialogue: Dialogue<PollResult> };

/** A device that does not answer is asked again after one round, two, four, then every sixth, or once a minute. */
const SILENT_ROUNDS_MOST = 6;
const SILENT_MOST_MS = 60_000;
/** One that is not what the configuration says needs a person, so it is asked less often still. */
const REFUSED_MOST_MS = 300_000;
/** So many polls in a row without an answer, and the device is looked through again: it may have been replaced. */
const SILENCES_TO_REOPEN = 2;
/** So many polls that were answered and brought nothing. */
const EMPTY_TO_REOPEN = 2;
/** A device behind a new connection is looked through again, but not more often: some peers close after every answer. */
const REOPEN_LEAST_MS = 600_000;
/** A device that takes more than this part of a round is asked when the others have been. */
const SLOW_PART = 1 / 8;
/**
 * What a device refused is not asked again, and a device may refuse what it has while it starts: so it is opened again
 * after so many rounds, and where it refuses again after four times as many, up to an hour's worth at ten seconds.
 */
const REFUSED_ROUNDS = 6;
const REFUSED_ROUNDS_MOST = 360;
/** Modbus application protocol V1.1b3, 7: illegal function, address, and value. */
const REFUSALS: ReadonlySet<number> = new Set([1, 2, 3]);
/** A device whose last answer took so long may take that many times as long for the next. */
const COST_SPREAD = 4;
const COST_LEAST_MS = 50;
const BUSY_PAUSE_MS = 100;
/** Modbus application protocol V1.1b3, 7: acknowledge, and server device busy. */
const BUSY: ReadonlySet<number> = new Set([5, 6]);

export class DeviceRun {
  readonly device: ModbusDevice;
  readonly #house: RunHouse;
  readonly #reader;
  #talk: Talk | null = null;
  #answer: ReadAnswer | null = null;
  #sentAtMs: number | null = null;
  #requests = 0;
  #costMs = 0;
  /** How long the last request of this talk took; null before one was answered. */
  #stepMs: number | null = null;
  #isOpen = false;
  #isHeard = false;
  /** Whether the device refused something since it was opened, and how often it did so in a row of openings. */
  #hasRefused = false;
  #refusedOpenings = 0;
  #openedMs = Number.NEGATIVE_INFINITY;
  #silences = 0;
  #refusals = 0;
  #empties = 0;
  #isHalting = false;
  #why: string | null = 'not asked yet';
  /** Of `elapsedMs`. */
  #nextAskMs = Number.NEGATIVE_INFINITY;
  #lastReadingAtMs: number | null = null;
  readonly #times = new PollTimes();

  constructor(device: ModbusDevice, house: RunHouse) {
    this.device = device;
    this.#house = house;
    this.#reader = createDeviceReader(device.config);
  }

  /** Whether it is known to answer, whole and fast: such devices are asked back to back, before all others. */
  get isPrompt(): boolean {
    return (
      this.#talk === null && this.isAnswering && !this.#isHalting && this.#costMs <= this.#house.everyMs * SLOW_PART
    );
  }
  get isAnswering(): boolean {
    return this.#isOpen && this.#silences === 0;
  }
  /** Whether it answered when it was last asked: what people want to know. */
  get isHeard(): boolean {
    return this.#isHeard;
  }
  get isTalking(): boolean {
    return this.#talk !== null;
  }
  get nextAskMs(): number {
    return this.#nextAskMs;
  }
  /** What the next request may cost: of a device that answers about what it takes, else a whole time-out. */
  get nextCostMs(): number {
    const { timeoutMs } = this.#house;
    return this.#stepMs === null ? timeoutMs : Math.min(timeoutMs, Math.max(COST_LEAST_MS, COST_SPREAD * this.#stepMs));
  }
  get lastReadingAtMs(): number | null {
    return this.#lastReadingAtMs;
  }
  get trouble(): string | null {
    return this.#why;
  }

  /** The connection is another: what stands behind it may be, too. */
  reconnected(): void {
    if (this.#house.clock.elapsedMs() - this.#openedMs > REOPEN_LEAST_MS) this.#isOpen = false;
  }

  /** Begins to open the device, or to poll it. */
  begin(): void {
    const { clock } = this.#house;
    this.#talk = this.#isOpen
      ? { kind: 'poll', dialogue: this.#reader.poll(clock.nowMs()) }
      : { kind: 'open', dialogue: this.#reader.open() };
    this.#answer = null;
    this.#sentAtMs = null;
    this.#requests = 0;
    this.#costMs = 0;
    this.#stepMs = null;
  }

  /** One request, and what it leads to. */
  async step(): Promise<Step> {
    const talk = this.#talk;
    if (talk === null) throw new RangeError(`Cannot go on with ${this.device.name}: no talk was begun`);
    try {
      const next = this.#answer === null ? talk.dialogue.next() : talk.dialogue.next(this.#answer);
      if (next.done === true) return this.#conclude(talk, next.value);
      return await this.#hear(next.value);
    } catch (error) {
      // A mistake of ours in reading one device stays with that device.
      this.#failed(error);
      return 'done';
    }
  }

  async #hear(read: RegisterRead): Promise<Step> {
    const answer = await this.#ask(read);
    if (answer === null) {
      this.#talk = null;
      this.#costMs = 0;
      return 'gone';
    }
    this.#answer = answer;
    this.#why = answer.ok ? null : answer.why;
    return 'more';
  }

  /** @returns null where the link is down */
  async #ask(read: RegisterRead): Promise<LinkAnswer | null> {
    const { link, clock, signal } = this.#house;
    const begunMs = clock.elapsedMs();
    let isSent = false;
    const send = (): Promise<LinkAnswer> =>
      link.read(this.device.address, read, () => {
        isSent = true;
        this.#requests += 1;
        this.#sentAtMs ??= clock.nowMs();
      });
    let answer = await send();
    if (!answer.ok && answer.exception !== null && REFUSALS.has(answer.exception)) this.#hasRefused = true;
    if (!answer.ok && answer.exception !== null && BUSY.has(answer.exception) && !signal.aborted) {
      await clock.wait(BUSY_PAUSE_MS, signal);
      answer = await send();
    }
    const tookMs = clock.elapsedMs() - begunMs;
    this.#costMs += tookMs;
    this.#stepMs = answer.ok ? tookMs : null;
    return isSent ? answer : null;
  }

  #failed(error: unknown): void {
    this.#talk = null;
    this.#isOpen = false;
    this.#refusals += 1;
    this.#why = `it could not be read: ${error instanceof Error ? error.message : String(error)}`;
    const remedy = 'this is a mistake of the program: report it with the profile or the models of the device';
    this.#house.noted(this.device, [{ what: this.#why, remedy }], 1);
    this.#askAgainIn(this.#refusals, REFUSED_MOST_MS);
  }

  #conclude(talk: Talk, result: OpenResult | PollResult): Step {
    this.#talk = null;
    if (talk.kind === 'open' && 'state' in result) return this.#opened(result);
    if ('readings' in result) this.#polled(result);
    return 'done';
  }

  #opened(result: OpenResult): Step {
    if (result.state === 'silent') {
      this.#wasSilent();
      return 'done';
    }
    // Of a profile nothing is asked here: whether the device is back shows when it is polled.
    if (this.#requests > 0) {
      this.#silences = 0;
      this.#isHeard = true;
    }
    if (result.state === 'refused') {
      this.#refusals += 1;
      this.#why = result.fault.what;
      this.#house.noted(this.device, [result.fault], 1);
      this.#askAgainIn(this.#refusals, REFUSED_MOST_MS);
      return 'done';
    }
    this.#refusals = 0;
    // Looking for it at places where it is not is no refusal.
    this.#hasRefused = false;
    this.#isOpen = true;
    this.#openedMs = this.#house.clock.elapsedMs();
    this.#house.noted(this.device, result.notes, 0);
    this.begin();
    return 'more';
  }

  #polled(result: PollResult): void {
    const { clock, polled, noted } = this.#house;
    noted(this.device, result.notes, result.refused);
    this.#isHalting = !result.isWhole;
    if (result.mustOpen) this.#isOpen = false;
    if (result.readings.length > 0 && this.#sentAtMs !== null) {
      const atMs = this.#times.take(this.#sentAtMs);
      this.#lastReadingAtMs = atMs;
      polled(result, atMs);
    }
    if (!result.isAnswering && this.#requests > 0) {
      this.#wasSilent();
      return;
    }
    this.#silences = 0;
    this.#isHeard = this.#requests > 0;
    this.#nextAskMs = clock.elapsedMs();
    this.#reopenAfterRefusal(result);
    this.#empties = result.readings.length > 0 ? 0 : this.#empties + 1;
    if (this.#empties === 0) {
      if (result.isWhole) this.#why = null;
      return;
    }
    this.#why = 'it answers, but nothing that it was asked for is there';
    if (this.#empties < EMPTY_TO_REOPEN) return;
    this.#isOpen = false;
    this.#askAgainIn(this.#empties, REFUSED_MOST_MS);
  }

  #reopenAfterRefusal({ isWhole }: PollResult): void {
    if (!this.#hasRefused) {
      if (isWhole) this.#refusedOpenings = 0;
      return;
    }
    const { clock, everyMs } = this.#house;
    const rounds = Math.min(REFUSED_ROUNDS * 4 ** this.#refusedOpenings, REFUSED_ROUNDS_MOST);
    if (clock.elapsedMs() - this.#openedMs < rounds * everyMs) return;
    this.#isOpen = false;
    this.#refusedOpenings += 1;
  }

  #wasSilent(): void {
    this.#isHeard = false;
    this.#silences += 1;
    this.#isHalting = false;
    if (this.#silences >= SILENCES_TO_REOPEN) this.#isOpen = false;
    // The first silence may be a lost frame: asked once more in the slack of the same round.
    if (this.#silences === 1) this.#nextAskMs = this.#house.clock.elapsedMs();
    else this.#askAgainIn(this.#silences - 1, Math.min(SILENT_MOST_MS, SILENT_ROUNDS_MOST * this.#house.everyMs));
  }

  #askAgainIn(times: number, mostMs: number): void {
    const { clock, everyMs } = this.#house;
    const afterMs = Math.min(everyMs * 2 ** Math.min(times - 1, 20), Math.max(mostMs, everyMs));
    this.#nextAskMs = clock.elapsedMs() + afterMs;
  }
}
