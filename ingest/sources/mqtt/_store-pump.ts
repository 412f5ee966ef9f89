/** Messages that wait, stored in bursts and acknowledged after: the loop between a broker and the door. */
import type { LiveDoor } from '../../intake/live-door.ts';
import type { ReadingBatch } from '../../vocabulary/reading.ts';
import { SECOND_MS } from '../../vocabulary/time.ts';
import { BatchBuilder } from '../../wire/batch-builder.ts';
import type { MqttMessage } from '../../wire/mqtt/message.ts';
import type { BrokerLine } from './_broker-line.ts';

export interface WaitingMessage {
  readonly message: MqttMessage;
  /** The connection that it came by, and what to acknowledge it by; null: nothing is waited for. */
  readonly line: BrokerLine;
  readonly messageId: number | null;
}

export interface PumpHouse {
  readonly door: LiveDoor;
  /** Puts what the message says into the batch. */
  read(message: MqttMessage, builder: BatchBuilder): void;
  stored(batch: ReadingBatch): void;
  /**
   * Keeps what the next process needs to go on behind this burst: after it is stored, before it is acknowledged.
   *
   * @throws where it can't be written
   */
  keep(): void;
  /** The door takes nothing, with the reason; null: it does again. */
  troubled(error: unknown): void;
  /** Nothing waits and nothing is being stored. */
  drained(): void;
}

export interface StorePump {
  /** @returns false where there is no room: then the message is not kept */
  offer(waiting: WaitingMessage): boolean;
  /** Takes nothing new, and resolves once what waits is stored and acknowledged, or can't be. */
  finish(): Promise<void>;
}

/** Bytes and messages that may wait for the disk: minutes of a large fleet. */
const MOST_WAITING_BYTES = 64 * 1024 * 1024;
const MOST_WAITING = 100_000;
/** One transaction takes at most this: beyond it the gain is small and the loop is held too long. */
const MOST_AT_ONCE = 2000;
const MOST_BYTES_AT_ONCE = 8 * 1024 * 1024;
/** A trickle is gathered for as long, so that it does not cost one sync of the disk a message. */
const GATHER_MS = 20;
/** A burst that was at least so large is followed at once: the broker waits for us. */
const BURST = 8;
const RETRY_FROM_MS = SECOND_MS;
const RETRY_TO_MS = 30 * SECOND_MS;

/** A rest that can be ended early. */
class Rest {
  #end: () => void = () => undefined;

  for(ms: number): Promise<void> {
    return new Promise((resolve) => {
      const timer = setTimeout(resolve, ms);
      this.#end = () => {
        clearTimeout(timer);
        resolve();
      };
    });
  }

  end(): void {
    this.#end();
  }
}

export function createStorePump(house: PumpHouse): StorePump {
  let waiting: WaitingMessage[] = [];
  let waitingBytes = 0;
  let isFinishing = false;
  let running: Promise<void> | null = null;
  let lastBurst = 0;
  const rest = new Rest();
  const builder = new BatchBuilder();

  /** The next burst; what is more stays. */
  const takeBurst = (): readonly WaitingMessage[] => {
    let count = 0;
    let bytes = 0;
    while (count < waiting.length && count < MOST_AT_ONCE && bytes < MOST_BYTES_AT_ONCE) {
      bytes += sizeOf(waiting[count]!);
      count += 1;
    }
    const burst = waiting.slice(0, count);
    waiting = waiting.slice(count);
    waitingBytes -= bytes;
    return burst;
  };

  /** @returns whether it is stored; it is not only where there is no more time to try again */
  const store = async (batch: ReadingBatch): Promise<boolean> => {
    let isStored = false;
    for (let pauseMs = RETRY_FROM_MS; ; pauseMs = Math.min(2 * pauseMs, RETRY_TO_MS)) {
      try {
        if (!isStored && batch.lines > 0) {
          await house.door.store(batch);
          isStored = true;
          house.stored(batch);
        }
        house.keep();
        house.troubled(null);
        return true;
      } catch (error) {
        house.troubled(error);
        if (isFinishing) return false;
        await rest.for(pauseMs);
      }
    }
  };

  const run = async (): Promise<void> => {
    while (waiting.length > 0) {
      // A timer of 0 ms lets everything that one read of the socket brought come in first.
      if (!isFinishing) await rest.for(lastBurst >= BURST || waiting.length >= MOST_AT_ONCE ? 0 : GATHER_MS);
      const burst = takeBurst();
      lastBurst = burst.length;
      for (const { message } of burst) house.read(message, builder);
      const batch = builder.finish();
      if (!(await store(batch))) break;
      acknowledge(burst);
    }
    running = null;
    if (waiting.length === 0) house.drained();
  };

  return {
    offer(one) {
      if (isFinishing || waiting.length >= MOST_WAITING || waitingBytes >= MOST_WAITING_BYTES) return false;
      waiting.push(one);
      waitingBytes += sizeOf(one);
      running ??= run();
      return true;
    },
    async finish() {
      isFinishing = true;
      rest.end();
      await running;
    },
  };
}

/** What a message takes in memory beside its payload. */
const OVERHEAD_BYTES = 300;
const sizeOf = ({ message }: WaitingMessage): number => message.payload.length + OVERHEAD_BYTES;

function acknowledge(burst: readonly WaitingMessage[]): void {
  const byLine = new Map<BrokerLine, number[]>();
  for (const { line, messageId } of burst) {
    if (messageId === null) continue;
    const ids = byLine.get(line) ?? [];
    ids.push(messageId);
    byLine.set(line, ids);
  }
  for (const [line, ids] of byLine) line.acknowledge(ids);
}
