/**
 * One connection to a broker, from the first byte to the last. A connection that was lost is never opened again: the
 * next one is another line, so that an acknowledgement can't reach a connection it does not belong to.
 *
 * The library acknowledges each message by itself, one at a time, before the next is read. Here a message is handed on
 * and its acknowledgement is held back, which the library allows by an error from `handleMessage`; whole bursts are
 * acknowledged later by its private `_sendPacket`. This is the only file that knows of it; a test with a broker of
 * another make holds it.
 */
import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import type { SparkplugNodeName } from '../../wire/mqtt/message.ts';
import { rebirthRequest } from '../../wire/sparkplug/rebirth-request.ts';

export interface Delivery {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly isRetained: boolean;
  /** The broker says that it has sent it before. */
  readonly isAgain: boolean;
  /** What to acknowledge it by; null: it is delivered once, and nothing is waited for. */
  readonly messageId: number | null;
}

export interface LineListener {
  /** @param hasSession  the broker has kept our subscriptions and what came meanwhile */
  opened(hasSession: boolean): void;
  delivered(delivery: Delivery): void;
  /** Once for each line, whether it was open or never came to be. @param error the last thing that went wrong */
  closed(error: unknown): void;
}

export interface BrokerLine {
  /** Says nothing to a line that is closed: the broker will send those messages again. */
  acknowledge(messageIds: readonly number[]): void;
  /** @returns the code the broker answers with: 128 and above is a refusal; null where there was no answer */
  subscribe(filter: string): Promise<number | null>;
  /** Asks a Sparkplug node to be born again; nothing else is ever published from here. */
  askForBirth(node: SparkplugNodeName): void;
  /** Says goodbye, so that no will is published; the session is kept. */
  end(): Promise<void>;
  /** Closes at once. */
  drop(): void;
}

/** Puts the acknowledgement off: the library sends none after an error. */
const LATER = new Error('acknowledged once it is stored');

interface PacketSender {
  _sendPacket(packet: { readonly cmd: 'puback'; readonly messageId: number; readonly reasonCode: number }): void;
}

/** How the broker named the reason of its goodbye (MQTT 5 only). */
export class BrokerGoodbye extends Error {
  override readonly name = 'BrokerGoodbye';
  readonly code: number;
  constructor(code: number) {
    super(`the broker closed the connection with reason ${code}`);
    this.code = code;
  }
}

/** Begins to connect. @param url mqtt:// or mqtts:// */
export function openBrokerLine(
  url: string,
  options: IClientOptions,
  listener: LineListener,
  nowMs: () => number,
): BrokerLine {
  const client = connect(url, {
    ...options,
    // Handlers stand before the first byte: what a session has kept comes right behind the answer to the connect.
    manualConnect: true,
    reconnectPeriod: 0,
    resubscribe: false,
    queueQoSZero: false,
  });
  let isClosed = false;
  let lastError: unknown = null;
  const close = (): void => {
    if (isClosed) return;
    isClosed = true;
    listener.closed(lastError);
  };
  client.on('error', (error) => {
    lastError = error;
  });
  client.on('disconnect', ({ reasonCode }) => {
    if (reasonCode !== undefined && reasonCode !== 0) lastError = new BrokerGoodbye(reasonCode);
  });
  client.on('connect', ({ sessionPresent }) => listener.opened(sessionPresent));
  client.on('close', close);
  client.handleMessage = (packet, done) => {
    const { topic, payload, qos, retain, dup, messageId } = packet;
    const isHeld = qos === 1 && messageId !== undefined;
    if (!isClosed) {
      const bytes = typeof payload === 'string' ? Buffer.from(payload) : payload;
      listener.delivered({
        topic,
        payload: bytes,
        isRetained: retain,
        isAgain: dup === true,
        messageId: isHeld ? messageId : null,
      });
    }
    done(isHeld ? LATER : undefined);
  };
  try {
    client.connect();
  } catch (error) {
    // A certificate that can't be read throws before there is a socket.
    lastError = error;
    queueMicrotask(close);
  }
  return lineOf(client, () => isClosed, nowMs);
}

function lineOf(client: MqttClient, isClosed: () => boolean, nowMs: () => number): BrokerLine {
  const sender = client as unknown as PacketSender;
  return {
    acknowledge(messageIds) {
      for (const messageId of messageIds) {
        // Not connected, the library would keep the packet for another connection.
        if (isClosed() || !client.connected) return;
        sender._sendPacket({ cmd: 'puback', messageId, reasonCode: 0 });
      }
    },
    subscribe: (filter) =>
      new Promise((resolve) => {
        client.subscribe(filter, { qos: 1 }, (error, granted) => {
          // A refusal comes as an error that carries the answer; a lost connection as one that carries none.
          const answer = (error as { readonly packet?: { readonly granted?: readonly unknown[] } } | null)?.packet;
          const code = error === null ? granted?.[0]?.qos : answer?.granted?.[0];
          resolve(typeof code === 'number' ? code : null);
        });
      }),
    askForBirth(node) {
      if (isClosed() || !client.connected) return;
      const { topic, payload } = rebirthRequest(node, nowMs());
      client.publish(topic, Buffer.from(payload), { qos: 0, retain: false });
    },
    end: () =>
      new Promise((resolve) => {
        if (isClosed()) resolve();
        else client.end(false, {}, () => resolve());
      }),
    drop() {
      if (!isClosed()) client.stream.destroy();
    },
  };
}
