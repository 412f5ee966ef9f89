/** One request at a time on one connection, fairly over the devices behind it; opened, given up and opened again. */
import type { RegisterRead } from '../../wire/modbus/dialogue.ts';
import { LateAnswers } from './_late-answers.ts';

/** What became of one request on the wire. */
export type WireAnswer =
  | { readonly kind: 'words'; readonly words: Uint16Array }
  | { readonly kind: 'exception'; readonly code: number }
  | { readonly kind: 'silence' | 'garbled' | 'closed'; readonly why: string };

/** An open connection to the devices. */
export interface Wire {
  readonly isOpen: boolean;
  /** Whether what came so far ends between two frames. */
  readonly isAskew: boolean;
  /** Never rejects, and answers within the time-out. One at a time. */
  ask(unit: number, read: RegisterRead): Promise<WireAnswer>;
  /** Waits until nothing has come for `quietMs`; what comes meanwhile answers nothing. Gives up after ten times that. */
  settle(quietMs: number): Promise<void>;
  /** Never hangs. */
  close(): Promise<void>;
}

export interface LaneOptions {
  readonly timeoutMs: number;
  /** Whether a late answer can pass for that of the next request: RTU has no transaction numbers. */
  readonly canConfuse: boolean;
  readonly open: () => Promise<Wire>;
  /** In [0, 1), for back-off. */
  readonly random: () => number;
  readonly onConnection: (isOpen: boolean, trouble: string | null) => void;
}

interface Job {
  readonly unit: number;
  readonly read: RegisterRead;
  readonly onSent: (() => void) | undefined;
  readonly done: (answer: WireAnswer) => void;
}

export const LIMITS = {
  /** So many requests in a row without any answer: the connection is given up, and a new one made. */
  silencesOfAConnection: 3,
  /** Requests that wait; one more is answered at once, as not answered. */
  waiting: 1024,
  /** An outage ends with readings, so a peer is not left alone for long. */
  backoffFirstMs: 500,
  backoffMostMs: 15_000,
  /** Silence after which an RTU line is taken to be at rest, at most. */
  settleMostMs: 500,
} as const;

const CLOSED: WireAnswer = { kind: 'closed', why: 'the link is closed' };

export class RequestLane {
  readonly #options: LaneOptions;
  readonly #waiting = new Map<number, Job[]>();
  #waitingCount = 0;
  readonly #late = new LateAnswers();
  #wire: Wire | null = null;
  #hasAnswered = false;
  #silences = 0;
  #failures = 0;
  #notBeforeMs = 0;
  #trouble = 'no connection yet';
  #isRunning = false;
  #isClosed = false;

  constructor(options: LaneOptions) {
    this.#options = options;
  }

  ask(unit: number, read: RegisterRead, onSent?: () => void): Promise<WireAnswer> {
    if (this.#isClosed) return Promise.resolve(CLOSED);
    if (this.#waitingCount >= LIMITS.waiting) {
      return Promise.resolve({ kind: 'silence', why: `${LIMITS.waiting} requests are waiting already` });
    }
    return new Promise((done) => {
      const jobs = this.#waiting.get(unit) ?? [];
      jobs.push({ unit, read, onSent, done });
      this.#waiting.set(unit, jobs);
      this.#waitingCount += 1;
      if (!this.#isRunning) void this.#run();
    });
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    for (let job = this.#next(); job !== null; job = this.#next()) job.done(CLOSED);
    const wire = this.#wire;
    this.#wire = null;
    await wire?.close();
  }

  /** The next job, of each unit in turn. */
  #next(): Job | null {
    const [first] = this.#waiting;
    if (first === undefined) return null;
    const [unit, jobs] = first;
    const job = jobs.shift()!;
    this.#waiting.delete(unit);
    if (jobs.length > 0) this.#waiting.set(unit, jobs);
    this.#waitingCount -= 1;
    return job;
  }

  async #run(): Promise<void> {
    this.#isRunning = true;
    for (let job = this.#next(); job !== null; job = this.#next()) job.done(await this.#answer(job));
    this.#isRunning = false;
  }

  async #answer(job: Job): Promise<WireAnswer> {
    // An idle connection may have been closed by the peer without our knowing: then, and only then, ask once more.
    const mayBeStale = this.#wire?.isOpen === true && this.#hasAnswered;
    const wire = await this.#connected();
    if (wire === null) return { kind: 'closed', why: this.#trouble };
    const answer = await this.#askOn(wire, job);
    await this.#judge(wire, answer);
    if (answer.kind !== 'closed' || !mayBeStale || this.#isClosed) return answer;
    const fresh = await this.#connected();
    if (fresh === null) return answer;
    const again = await this.#askOn(fresh, job);
    await this.#judge(fresh, again);
    return again;
  }

  async #askOn(wire: Wire, { unit, read, onSent }: Job): Promise<WireAnswer> {
    const { canConfuse, timeoutMs } = this.#options;
    const isGuarded = canConfuse && this.#late.mayCome(unit, performance.now());
    const sent = isGuarded ? this.#late.disguise(unit, read, performance.now()) : read;
    if (sent === null) await this.#settle(wire);
    onSent?.();
    let asked = sent ?? read;
    let answer = await wire.ask(unit, asked);
    if (isGuarded && answer.kind === 'exception') {
      // Exceptions all look alike: this one may be the late answer, or the device has not the register more.
      await this.#settle(wire);
      asked = read;
      answer = await wire.ask(unit, asked);
    }
    if (answer.kind === 'words' || answer.kind === 'exception') {
      this.#late.settle(unit);
    } else if (canConfuse) {
      this.#late.add(unit, asked, performance.now());
      // What is on its way is let pass, so that it does not meet the next device's answer on the line.
      if (answer.kind === 'garbled' && wire.isOpen) await wire.settle(Math.min(timeoutMs / 4, LIMITS.settleMostMs));
    }
    if (answer.kind !== 'words' || asked.count === read.count) return answer;
    return { kind: 'words', words: answer.words.slice(0, read.count) };
  }

  async #settle(wire: Wire): Promise<void> {
    await wire.settle(Math.min(this.#options.timeoutMs / 2, LIMITS.settleMostMs));
  }

  async #judge(wire: Wire, answer: WireAnswer): Promise<void> {
    if (this.#isClosed) return;
    if (answer.kind === 'words' || answer.kind === 'exception') {
      this.#silences = 0;
      this.#failures = 0;
      this.#hasAnswered = true;
      return;
    }
    this.#silences += 1;
    if (wire.isOpen && !wire.isAskew && this.#silences < LIMITS.silencesOfAConnection) return;
    // A peer that answered and then went away is asked again at once: some close after each request. So is one that
    // was silent: that took time enough, and behind a gateway the next device may well answer.
    if (answer.kind === 'closed' && !this.#hasAnswered) this.#backOff(answer.why);
    await this.#giveUp(wire, answer.why);
  }

  async #giveUp(wire: Wire, why: string): Promise<void> {
    this.#wire = null;
    this.#silences = 0;
    this.#trouble = why;
    this.#options.onConnection(false, why);
    await wire.close();
  }

  #backOff(why: string): void {
    const { backoffFirstMs, backoffMostMs } = LIMITS;
    const most = Math.min(backoffMostMs, backoffFirstMs * 2 ** Math.min(this.#failures, 10));
    this.#failures += 1;
    // Jitter, so that sites which lost one gateway together do not come back to it together.
    this.#notBeforeMs = performance.now() + most * (0.5 + this.#options.random() / 2);
    this.#trouble = why;
  }

  /** The open connection, a new one, or null while there is none to be had. */
  async #connected(): Promise<Wire | null> {
    if (this.#isClosed) return null;
    if (this.#wire?.isOpen === true) return this.#wire;
    if (this.#wire !== null) await this.#giveUp(this.#wire, 'the peer closed the connection');
    if (performance.now() < this.#notBeforeMs) return null;
    try {
      const wire = await this.#options.open();
      if (this.#isClosed) {
        await wire.close();
        return null;
      }
      this.#wire = wire;
      this.#hasAnswered = false;
      this.#silences = 0;
      this.#options.onConnection(true, null);
      return wire;
    } catch (error) {
      const why = error instanceof Error ? error.message : String(error);
      this.#backOff(why);
      this.#options.onConnection(false, why);
      return null;
    }
  }
}
