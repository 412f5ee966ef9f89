/**
 * The cadence of one link. Rounds begin on multiples of the interval, so that several links of one site are read at
 * one instant. First come the devices that are known to answer, back to back, units before packs; what time is left
 * is for the slow, the silent and those that are not open yet, a request at a time and never into the next round.
 */
import type { Clock, DeviceRun, Step } from './_device-run.ts';
import type { ModbusLink } from './modbus-link.ts';

export interface RoundsHouse {
  readonly link: ModbusLink;
  readonly clock: Clock;
  readonly everyMs: number;
  readonly timeoutMs: number;
  readonly signal: AbortSignal;
  /** After the prompt devices, and after each of the others: what was read may be stored. */
  afterPolls(): void;
  /** A round took so long that others were left out. */
  skipped(rounds: number, tookMs: number): void;
}

/** Work that waits is let go on once after so many rounds, at the cost of the next round's punctuality. */
const STARVED_MOST = 3;
/** Left between the last request and the next round. */
const MARGIN_MS = 20;

export class PollRounds {
  readonly #house: RoundsHouse;
  /** Units first, then the rest, each in the order of the configuration. */
  readonly #runs: readonly DeviceRun[];
  /** Talks that were begun and not ended, oldest first. */
  #open: DeviceRun[] = [];
  #lastSlot = Number.NEGATIVE_INFINITY;
  #connections = 0;
  #isGone = false;
  /** Rounds in a row whose slack was too short for any request that waits. */
  #waitedRounds = 0;

  constructor(runs: readonly DeviceRun[], house: RoundsHouse) {
    this.#house = house;
    const isUnit = ({ device }: DeviceRun): boolean => device.config.unit !== undefined;
    this.#runs = [...runs.filter(isUnit), ...runs.filter((run) => !isUnit(run))];
  }

  /** Whether the link itself is down. */
  get isGone(): boolean {
    return this.#isGone;
  }

  /** Goes on until the signal; never rejects for what a device does. */
  async run(): Promise<void> {
    const { signal } = this.#house;
    while (!signal.aborted) {
      await this.#slack(this.#untilNextMs());
      if (!signal.aborted) await this.#round();
    }
  }

  /** @returns ms until the next multiple of the interval by the clock, and takes it as begun then */
  #untilNextMs(): number {
    const { clock, everyMs } = this.#house;
    const nowMs = clock.nowMs();
    let slot = Math.floor(nowMs / everyMs) + 1;
    // A timer may ring a moment early: the same instant is not taken twice. After a clock was set back it may.
    if (slot === this.#lastSlot) slot += 1;
    this.#lastSlot = slot;
    return slot * everyMs - nowMs;
  }

  async #round(): Promise<void> {
    const { link, clock, everyMs, signal, afterPolls, skipped } = this.#house;
    const begunMs = clock.elapsedMs();
    const { connections } = link.status();
    if (connections !== this.#connections && this.#connections > 0) for (const run of this.#runs) run.reconnected();
    this.#connections = connections;
    for (const run of this.#runs.filter((one) => one.isPrompt)) {
      run.begin();
      let step: Step = 'more';
      while (step === 'more' && !signal.aborted) step = await run.step();
      if (signal.aborted) break;
      this.#isGone = step === 'gone';
      if (this.#isGone) break;
    }
    if (signal.aborted) return;
    afterPolls();
    const tookMs = clock.elapsedMs() - begunMs;
    if (tookMs > everyMs) skipped(Math.floor(tookMs / everyMs), tookMs);
    this.#queue();
  }

  /** Everything that answers but not promptly is due once a round. */
  #queue(): void {
    for (const run of this.#runs) {
      if (run.isAnswering && !run.isPrompt && !run.isTalking) this.#begin(run);
    }
  }

  #begin(run: DeviceRun): void {
    run.begin();
    this.#open.push(run);
  }

  /** Works on what waits, for `ms` at most. */
  async #slack(ms: number): Promise<void> {
    const { clock, signal } = this.#house;
    const endMs = clock.elapsedMs() + ms;
    const leftMs = (): number => endMs - clock.elapsedMs();
    let hasStepped = false;
    while (!signal.aborted && leftMs() > 0) {
      // With the link down one attempt is enough: it is down for all.
      const run = this.#isGone && hasStepped ? null : this.#nextRun(leftMs(), hasStepped);
      if (run !== null) {
        hasStepped = true;
        await this.#step(run);
      } else await clock.wait(Math.min(leftMs(), this.#untilDueMs()), signal);
    }
    if (!hasStepped) this.#waitedRounds += 1;
    else this.#waitedRounds = 0;
  }

  async #step(run: DeviceRun): Promise<void> {
    const step = await run.step();
    if (step === 'more') return;
    this.#open = this.#open.filter((one) => one !== run);
    this.#isGone = step === 'gone';
    this.#house.afterPolls();
  }

  /** The oldest talk for which there is time, else a silent or new device whose time has come. */
  #nextRun(leftMs: number, hasStepped: boolean): DeviceRun | null {
    // Where nobody else would be kept waiting, or after some rounds of waiting, a request may reach into the round.
    const mayReach = !this.#runs.some((run) => run.isPrompt) || (this.#waitedRounds >= STARVED_MOST && !hasStepped);
    const fits = (costMs: number): boolean => mayReach || costMs + MARGIN_MS <= leftMs;
    const talking = this.#open.find((run) => fits(run.nextCostMs));
    if (talking !== undefined) return talking;
    if (!fits(this.#house.timeoutMs)) return null;
    const nowMs = this.#house.clock.elapsedMs();
    const due = this.#runs.filter((run) => !run.isAnswering && !run.isTalking && run.nextAskMs <= nowMs);
    const [longest] = due.sort((a, b) => a.nextAskMs - b.nextAskMs);
    if (longest === undefined) return null;
    this.#begin(longest);
    return longest;
  }

  #untilDueMs(): number {
    const nowMs = this.#house.clock.elapsedMs();
    const times = this.#runs.filter((run) => !run.isAnswering && !run.isTalking).map(({ nextAskMs }) => nextAskMs);
    return Math.max(1, Math.min(...times.filter((atMs) => atMs > nowMs), Number.POSITIVE_INFINITY) - nowMs);
  }
}
