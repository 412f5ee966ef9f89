/** The courier: the sources of a site, a queue on disk in place of a store, and whoever it forwards to. */
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { createClockWatch } from './sources/courier/clock-watch.ts';
import type { CourierConfig } from './sources/courier/courier-config.ts';
import { DiskQueue } from './sources/courier/disk-queue.ts';
import { followIntoQueue } from './sources/courier/follow-into-queue.ts';
import { type ForwardLoop, startForwarding } from './sources/courier/forward-loop.ts';
import { forwardByMqtt } from './sources/courier/forward-mqtt.ts';
import { forwardByPush } from './sources/courier/forward-push.ts';
import type { Forwarder } from './sources/courier/forwarder.ts';
import { createQueueDoor } from './sources/courier/queue-door.ts';
import { type KeptSources, keepSources } from './sources/keep-sources.ts';
import { makeSource, type RunConfig } from './sources/make-source.ts';
import { createMqttPublisher } from './sources/mqtt/mqtt-publisher.ts';
import { asNeedsOperator } from './store/open-store.ts';
import { takeWorkerLock } from './store/worker-lock.ts';
import { NeedsOperator } from './vocabulary/refusal.ts';
import { MINUTE_MS, SECOND_MS } from './vocabulary/time.ts';

export interface CourierTask {
  readonly courier: CourierConfig;
  readonly sources: readonly RunConfig[];
}

export interface CourierHouse {
  say(line: string): void;
  nowMs(): number;
  /** Never steps. */
  elapsedMs(): number;
  random(): number;
  /** Resolves when the courier is to stop. */
  readonly stopped: Promise<void>;
  /** Calls back with the sources that hold from then on. */
  onSources(listener: (sources: readonly RunConfig[]) => void): void;
}

const LOCK_WAIT_MS = 5 * SECOND_MS;
const SAY_EVERY_MS = 10 * MINUTE_MS;

/** Runs until it is to stop. @throws NeedsOperator where another courier holds the queue, or it can't be written */
export async function runCourier({ courier, sources }: CourierTask, house: CourierHouse): Promise<void> {
  const { say, nowMs, elapsedMs, random } = house;
  const { path, maxBytes } = courier.queue;
  const lock = takeQueue(path);
  const queue = openQueue(path, { maxBytes, say, nowMs });
  const clock = createClockWatch({ nowMs, elapsedMs, say });
  const door = createQueueDoor(queue);
  const kept = keepSources<RunConfig>(
    (config) =>
      makeSource(config, {
        door,
        nowMs,
        say,
        memoryFolder: join(path, 'sources'),
        followHouse: (folder) => followIntoQueue(path, door, folder),
        // A courier's word about its clock, heard by another courier: the server hears it from its own broker.
        hearOffset: ({ name, offsetMs }) => say(`the clock of courier ${name} is ${offsetMs} ms ahead`),
      }),
    { nowMs, say },
  );
  const forwarding = startForwarding(queue, forwarderOf(courier, clock, nowMs), { say, random, elapsedMs });
  const looking = setInterval(clock.look, SECOND_MS);
  const telling = setInterval(() => say(sayHow(queue, forwarding, kept)), SAY_EVERY_MS);
  try {
    await kept.set(sources);
    house.onSources((next) => void kept.set(next));
    await house.stopped;
  } finally {
    // Sources first: what they have read lies in the queue before it is closed.
    await kept.stop();
    await forwarding.stop();
    clearInterval(looking);
    clearInterval(telling);
    await queue.close();
    lock.release();
  }
}

function takeQueue(path: string): { release(): void } {
  try {
    mkdirSync(path, { recursive: true });
  } catch (error) {
    throw asNeedsOperator(error, path);
  }
  const lock = takeWorkerLock(path, LOCK_WAIT_MS);
  if (lock !== null) return lock;
  throw new NeedsOperator({
    where: path,
    what: 'another courier works on this queue already',
    remedy: 'stop it, or give each a folder of its own: queue.path',
  });
}

function openQueue(path: string, options: ConstructorParameters<typeof DiskQueue>[1]): DiskQueue {
  try {
    return new DiskQueue(path, options);
  } catch (error) {
    throw asNeedsOperator(error, path);
  }
}

function forwarderOf(
  { name, forward }: CourierConfig,
  clock: ReturnType<typeof createClockWatch>,
  nowMs: () => number,
): Forwarder {
  if (forward.kind === 'push') return forwardByPush(forward, { clock, courier: name, nowMs });
  const { broker } = forward;
  // Each courier is a client of its own to the broker.
  const publisher = createMqttPublisher({ ...broker, clientId: broker.clientId ?? `kilter-courier-${name}` });
  return forwardByMqtt({ publisher, broker: broker.name, clock, courier: name, nowMs });
}

/** One line of how it goes, for whoever reads the log of a small computer. */
function sayHow(queue: DiskQueue, forwarding: ForwardLoop, kept: Pick<KeptSources, 'statuses'>): string {
  const { waiting, bytes, thinned, damaged } = queue.counts();
  const { sent, refused, trouble } = forwarding.counts();
  const sources = kept.statuses();
  const broken = sources.filter(({ isConnected, trouble: own }) => !isConnected || own !== null);
  return [
    `${sent} lines sent, ${waiting} records wait (${Math.ceil(bytes / 1024)} kB)`,
    ...(refused > 0 ? [`${refused} lines refused by the server`] : []),
    ...(thinned > 0 ? [`${thinned} readings given up because the queue was full`] : []),
    ...(damaged > 0 ? [`${damaged} records could not be read again`] : []),
    `${sources.length - broken.length} of ${sources.length} sources work`,
    ...(trouble === null ? [] : [`not sending: ${trouble}`]),
  ].join('; ');
}
