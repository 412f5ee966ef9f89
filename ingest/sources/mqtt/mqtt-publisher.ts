/** Publishes to a broker over one connection; one that was lost is never opened again, the next send opens another. */
import { connect, type MqttClient } from 'mqtt';
import { lineOptions } from './_line-options.ts';
import { lineTrouble } from './_line-trouble.ts';
import type { MqttConfig } from './mqtt-config.ts';

export interface Publication {
  readonly topic: string;
  readonly payload: string;
}

export interface MqttPublisher {
  /**
   * QoS 1, in order. Resolves once the broker has acknowledged all, within the time.
   *
   * @returns null, or in words why not all are acknowledged
   */
  publish(publications: readonly Publication[], withinMs: number, signal: AbortSignal): Promise<string | null>;
  end(): Promise<void>;
}

const CONNECT_WITHIN_MS = 10_000;
const GOODBYE_WITHIN_MS = 500;
/** MQTT 5, 3.4.2.1: the broker took the message, and nobody is subscribed to it. */
const NOBODY_SUBSCRIBED = 16;
const NOBODY =
  'the broker takes readings, but nobody is subscribed to them: start the worker of the server once, so that the broker keeps them for it';

export function createMqttPublisher(config: MqttConfig): MqttPublisher {
  let client: MqttClient | null = null;
  const open = async (): Promise<MqttClient> => {
    if (client?.connected === true) return client;
    drop();
    const opening = connect(config.url, {
      ...lineOptions(config),
      // Nothing is delivered to us, so there is no session to keep; what is not acknowledged is kept by the queue.
      clean: true,
      ...(config.protocol === 5 ? { properties: {} } : {}),
      reconnectPeriod: 0,
      queueQoSZero: false,
      connectTimeout: CONNECT_WITHIN_MS,
    });
    client = opening;
    let error: unknown = null;
    opening.on('error', (one) => {
      error = one;
    });
    await new Promise<void>((resolve, reject) => {
      opening.once('connect', () => resolve());
      opening.once('close', () => reject(new Error(lineTrouble(error))));
    });
    return opening;
  };
  const drop = (): void => {
    client?.end(true);
    client = null;
  };
  return {
    async publish(publications, withinMs, signal) {
      try {
        const line = await open();
        return await within(acknowledged(line, publications), line, withinMs, signal);
      } catch (error) {
        return error instanceof Error ? error.message : String(error);
      }
    },
    async end() {
      const line = client;
      client = null;
      if (line === null) return;
      const gone = new Promise<void>((resolve) => line.end(false, () => resolve()));
      const late = new Promise<void>((resolve) => setTimeout(resolve, GOODBYE_WITHIN_MS).unref());
      await Promise.race([gone, late]);
      line.end(true);
    },
  };
}

async function acknowledged(line: MqttClient, publications: readonly Publication[]): Promise<string | null> {
  // The library takes this reason for a success, and tells it to nobody.
  let isHeard = true;
  const look = (packet: { readonly cmd: string; readonly reasonCode?: number | undefined }): void => {
    if (packet.cmd === 'puback' && packet.reasonCode === NOBODY_SUBSCRIBED) isHeard = false;
  };
  line.on('packetreceive', look);
  try {
    const answers = publications.map(
      ({ topic, payload }) =>
        new Promise<string | null>((resolve) => {
          line.publish(topic, payload, { qos: 1 }, (error) => resolve(error ? lineTrouble(error) : null));
        }),
    );
    const trouble = (await Promise.all(answers)).find((answer) => answer !== null) ?? null;
    return trouble ?? (isHeard ? null : NOBODY);
  } finally {
    line.off('packetreceive', look);
  }
}

/** A connection that is lost, or too slow, is dropped: the library would send its messages again by itself. */
async function within(
  answer: Promise<string | null>,
  line: MqttClient,
  ms: number,
  signal: AbortSignal,
): Promise<string | null> {
  let end = (_trouble: string): void => undefined;
  const broken = new Promise<string>((resolve) => {
    end = resolve;
  });
  const onClose = (): void => end('the connection was lost before the broker had acknowledged all');
  const onAbort = (): void => end('it was stopped');
  const timer = setTimeout(() => end(`the broker has not acknowledged all within ${ms / 1000} s`), ms);
  line.once('close', onClose);
  signal.addEventListener('abort', onAbort);
  try {
    const trouble = await Promise.race([answer, broken]);
    if (trouble !== null && trouble !== NOBODY) line.end(true);
    return trouble;
  } finally {
    clearTimeout(timer);
    line.off('close', onClose);
    signal.removeEventListener('abort', onAbort);
  }
}
