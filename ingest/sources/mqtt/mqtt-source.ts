/** An MQTT broker as a live source: stored, then acknowledged; connected again whenever the connection is lost. */
import type { LiveDoor } from '../../intake/live-door.ts';
import type { DevicePart, SourceStatus } from '../../vocabulary/source-status.ts';
import { SECOND_MS } from '../../vocabulary/time.ts';
import type { BatchBuilder } from '../../wire/batch-builder.ts';
import type { CourierOffset, MqttMessage, SparkplugNodeName } from '../../wire/mqtt/message.ts';
import { createMessageReader } from '../../wire/mqtt/message-reader.ts';
import type { LiveSource } from '../live-source.ts';
import { createSourceGauge } from '../source-gauge.ts';
import type { SourceMemory } from '../source-memory.ts';
import { createBirthRequests } from './_birth-requests.ts';
import { type BrokerLine, type Delivery, openBrokerLine } from './_broker-line.ts';
import { createEntryTimes } from './_entry-times.ts';
import { lineOptions } from './_line-options.ts';
import { lineTrouble } from './_line-trouble.ts';
import { createSilences } from './_silences.ts';
import { createStorePump } from './_store-pump.ts';
import { createSubscriptions } from './_subscriptions.ts';
import type { MqttConfig } from './mqtt-config.ts';

export interface MqttHouse {
  nowMs(): number;
  say(line: string): void;
  /** The clock of a courier, as it measured it against the server's. */
  hearOffset?(offset: CourierOffset): void;
  /** Outlives the process; without it births are heard anew each time. */
  readonly memory?: SourceMemory;
}

const AGAIN_FROM_MS = SECOND_MS / 2;
const AGAIN_TO_MS = 30 * SECOND_MS;
/** A connection that held so long was a good one: the next attempt comes soon. */
const HELD_MS = 5 * SECOND_MS;
/** Nor is one that let us in at all tried less often than every two seconds. */
const MOST_AFTER_OPEN = 2;
/** Within what a worker gives its sources to stop. */
const FINISH_WITHIN_MS = 2200;
const GOODBYE_WITHIN_MS = 600;

export function createMqttSource(config: MqttConfig, door: LiveDoor, house: MqttHouse): LiveSource {
  return new MqttSource(config, door, house);
}

class MqttSource implements LiveSource {
  readonly name: string;
  readonly #config: MqttConfig;
  readonly #house: MqttHouse;
  readonly #gauge;
  readonly #silences;
  readonly #reader;
  readonly #entries;
  readonly #subscriptions;
  readonly #pump;
  #line: BrokerLine | null = null;
  #isOpen = false;
  #openedAt = 0;
  #isStopping = false;
  #again: NodeJS.Timeout | null = null;
  #attempt = 0;
  /** Messages of this connection are left with the broker, because there was no room: it is opened anew for them. */
  #isOverrun = false;
  #diskTrouble: string | null = null;
  /** Whether the session that the memory belongs to was looked for at the broker. */
  #hasRecalled = false;
  #keptChange = 0;
  #said = '';

  constructor(config: MqttConfig, door: LiveDoor, house: MqttHouse) {
    this.name = config.name;
    this.#config = config;
    this.#house = house;
    this.#gauge = createSourceGauge(config.name, 'mqtt', house.nowMs);
    this.#silences = createSilences(config.wills);
    this.#reader = createMessageReader(config.topics, this.#silences.isWill);
    this.#entries = createEntryTimes(this.#reader.entries, {
      silences: this.#silences,
      gauge: this.#gauge,
      hearOffset: (offset) => house.hearOffset?.(offset),
      needsBirth: createBirthRequests(
        (node) => this.#askForBirth(node),
        () => performance.now(),
      ),
    });
    const filters = [...new Set([...this.#reader.filters, ...this.#silences.filters])];
    this.#subscriptions = createSubscriptions(filters, (line) => this.#say(line));
    this.#pump = createStorePump({
      door,
      read: (message, builder) => this.#read(message, builder),
      stored: (batch) => this.#gauge.stored(batch),
      keep: () => this.#keep(),
      troubled: (error) => this.#diskTroubled(error),
      drained: () => this.#drained(),
    });
  }

  start(): void {
    this.#connect();
  }

  status(): SourceStatus {
    const base = this.#gauge.status(this.#parts());
    return { ...base, trouble: this.#diskTrouble ?? base.trouble };
  }

  async stop(): Promise<void> {
    this.#isStopping = true;
    if (this.#again !== null) clearTimeout(this.#again);
    await within(FINISH_WITHIN_MS, this.#pump.finish());
    this.#subscriptions.closed();
    const line = this.#line;
    if (line === null) return;
    await within(GOODBYE_WITHIN_MS, line.end());
    line.drop();
  }

  #connect(): void {
    this.#again = null;
    this.#isOverrun = false;
    let options: ReturnType<typeof lineOptions>;
    try {
      options = lineOptions(this.#config);
    } catch (error) {
      this.#closed(error);
      return;
    }
    const line = openBrokerLine(
      this.#config.url,
      options,
      {
        opened: (hasSession) => this.#opened(line, hasSession),
        delivered: (delivery) => this.#delivered(line, delivery),
        closed: (error) => this.#closed(error),
      },
      this.#house.nowMs,
    );
    this.#line = line;
  }

  #opened(line: BrokerLine, hasSession: boolean): void {
    this.#isOpen = true;
    this.#openedAt = this.#house.nowMs();
    this.#attempt = Math.min(this.#attempt, MOST_AFTER_OPEN);
    this.#gauge.connected();
    this.#say('connected');
    this.#recall(hasSession);
    this.#subscriptions.opened(line, hasSession);
  }

  /** Births that an earlier process heard hold on in the session that it had, and in no other. */
  #recall(hasSession: boolean): void {
    const isFirst = !this.#hasRecalled;
    this.#hasRecalled = true;
    if (!isFirst || !hasSession) return;
    const kept = this.#house.memory?.load() ?? null;
    if (typeof kept === 'object' && kept !== null) this.#reader.recall(kept as Readonly<Record<string, unknown>>);
  }

  #keep(): void {
    const change = this.#reader.keptChange();
    if (change === this.#keptChange) return;
    this.#house.memory?.save(this.#reader.kept());
    this.#keptChange = change;
  }

  /** @returns whether it was sent */
  #askForBirth(node: SparkplugNodeName): boolean {
    const line = this.#line;
    if (!this.#isOpen || line === null) return false;
    line.askForBirth(node);
    this.#say(`node ${node.node} of group ${node.group} is asked to be born again: its birth was missed`);
    return true;
  }

  #closed(error: unknown): void {
    // What was a good connection tells nothing against the next; one that is cut at once does.
    if (this.#isOpen && this.#house.nowMs() - this.#openedAt >= HELD_MS) this.#attempt = 0;
    this.#isOpen = false;
    this.#line = null;
    this.#subscriptions.closed();
    if (this.#isStopping) return;
    const trouble = lineTrouble(error);
    this.#gauge.broken(trouble);
    this.#say(trouble);
    const pauseMs = Math.min(AGAIN_TO_MS, AGAIN_FROM_MS * 2 ** this.#attempt);
    this.#attempt += 1;
    // Many workers that lost one broker do not come back in the same moment.
    this.#again = setTimeout(() => this.#connect(), pauseMs * (0.75 + Math.random() / 2));
  }

  #delivered(line: BrokerLine, { topic, payload, isRetained, isAgain, messageId }: Delivery): void {
    if (this.#isStopping) return;
    const canComeAgain = messageId !== null && this.#config.clientId !== null;
    const message = { topic, payload, isRetained, isAgain, canComeAgain, arrivedAt: this.#house.nowMs() };
    const isLeft = this.#isOverrun && messageId !== null;
    if (!isLeft && this.#pump.offer({ message, line, messageId })) return;
    if (messageId !== null) {
      this.#isOverrun = true;
      return;
    }
    const what = 'a message came faster than the disk could store, and will not come again';
    this.#gauge.refused({ where: topic, what, remedy: 'publish with QoS 1, or see what keeps the disk busy' });
  }

  /** What was left with the broker comes again by a new connection, now that there is room. */
  #drained(): void {
    if (this.#isOverrun && !this.#isStopping) this.#line?.drop();
  }

  /** The fence round one message: a mistake of ours must not hold up the others. */
  #read(message: MqttMessage, builder: BatchBuilder): void {
    try {
      if (this.#silences.isWill(message.topic)) this.#silences.hear(message.topic, message.payload, message.arrivedAt);
      this.#entries.read(this.#reader, message, builder);
    } catch (error) {
      const what = `reading it failed: ${error instanceof Error ? error.message : String(error)}`;
      this.#gauge.refused({ where: message.topic, what, remedy: 'report this as a fault of Kilter' });
      this.#say(`${message.topic}: ${what}`);
    }
  }

  #diskTroubled(error: unknown): void {
    this.#diskTrouble =
      error === null
        ? null
        : `readings cannot be stored: ${error instanceof Error ? error.message : String(error)}; they stay with the broker and are tried again`;
    if (this.#diskTrouble !== null) this.#say(this.#diskTrouble);
  }

  #parts(): readonly DevicePart[] {
    const own = this.#entries.parts({
      isOpen: this.#isOpen,
      isHeld: (filter) => this.#subscriptions.isHeld(filter),
      trouble: (filter) => this.#subscriptions.trouble(filter),
    });
    const wills = this.#silences.filters.flatMap((filter): DevicePart[] => {
      const trouble = this.#subscriptions.trouble(filter);
      return trouble === null
        ? []
        : [{ name: `last will on ${filter}`, isAnswering: false, lastReadingAt: null, trouble }];
    });
    return [...own, ...wills, ...this.#silences.parts()];
  }

  /** Only what is new: a broker that is away for a day is said once. */
  #say(line: string): void {
    if (line === this.#said) return;
    this.#said = line;
    this.#house.say(`${this.name}: ${line}`);
  }
}

/** Resolves with the work, or without it when its time is over. */
async function within(ms: number, work: Promise<void>): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, ms);
  });
  await Promise.race([work, late]);
  clearTimeout(timer);
}
