/**
 * `POST /api/readings` without the HTTP: who may write, how much, how often; lines in, counts out.
 *
 * Nothing of a body is stored before it has arrived whole and was unpacked whole: one that breaks off in the middle
 * stores nothing. It may be sent again as often as need be, because the same reading twice is one reading.
 */
import type { LiveDoor } from '../../intake/live-door.ts';
import type { RefusedLine } from '../../vocabulary/reading.ts';
import type { DevicePart } from '../../vocabulary/source-status.ts';
import { type EpochMs, epochMs } from '../../vocabulary/time.ts';
import type { LiveSource } from '../live-source.ts';
import { createSourceGauge, newestTime } from '../source-gauge.ts';
import { decodePush, PushTally } from './decode-push.ts';
import type { PushConfig } from './push-config.ts';
import { PUSH_LIMITS, type PushLimits } from './push-limits.ts';
import { createPushTokens, type Pusher } from './push-tokens.ts';
import { createRequestRate } from './request-rate.ts';
import { type Packing, unpackBody } from './unpack-body.ts';

export interface PushBody {
  readonly bytes: AsyncIterable<Uint8Array>;
  readonly packing: Packing;
}

/** A courier's word on its clock: how far it is ahead of ours, as it measured it; null: not measured. */
export interface CourierWord {
  readonly name: string;
  readonly offsetMs: number | null;
}

export interface PushAnswer {
  readonly stored: number;
  readonly alreadyThere: number;
  readonly refusedCount: number;
  /** The first of them. */
  readonly refused: readonly RefusedLine[];
}

export type PushOutcome =
  | PushAnswer
  | { readonly failed: 'large' | 'damaged' | 'cut' }
  | { readonly failed: 'often'; readonly againInS: number }
  | { readonly failed: 'stopping' }
  | { readonly failed: 'disk'; readonly error: unknown };

export interface PushSource extends LiveSource {
  /** Whose token it is; null: nobody's. Where no tokens are configured, who passed the board's own gate pushes. */
  readonly pusherOf: ((token: string) => Pusher | null) | null;
  take(pusher: Pusher, body: PushBody, courier: CourierWord | null): Promise<PushOutcome>;
}

export interface PushHouse {
  nowMs(): number;
  /** Never steps. */
  elapsedMs(): number;
  /** Keeps what a courier says of its clock. */
  keepClock(clock: { readonly name: string; readonly at: number; readonly offsetMs: number | null }): void;
}

/** What is known of one pusher. */
interface Known {
  lastReadingAt: EpochMs | null;
  trouble: string | null;
}

/** Gateways with a token each; what is not heard for that long is said to be silent by the findings, not here. */
export function createPushSource(
  config: PushConfig,
  door: LiveDoor,
  house: PushHouse,
  limits: PushLimits = PUSH_LIMITS,
): PushSource {
  const gauge = createSourceGauge(config.name, 'push', house.nowMs);
  const rate = createRequestRate(limits.burst, limits.perSecond, house.elapsedMs);
  const known = new Map<string, Known>(
    (config.tokens ?? []).map(({ name }) => [name, { lastReadingAt: null, trouble: null }]),
  );
  const underWay = new Set<Promise<unknown>>();
  let isStopping = false;
  const knownOf = (name: string): Known => {
    const one = known.get(name) ?? { lastReadingAt: null, trouble: null };
    known.set(name, one);
    return one;
  };
  const store = async (pusher: Pusher, bytes: Uint8Array): Promise<PushAnswer> => {
    const tally = new PushTally(limits.namedRefusals);
    for (const batch of decodePush(bytes, pusher)) {
      tally.add(batch, await door.store(batch));
      gauge.stored(batch);
      const one = knownOf(pusher.name);
      const newest = newestTime(batch);
      if (newest !== null) one.lastReadingAt = epochMs(Math.max(newest, one.lastReadingAt ?? newest));
      for (const { line, what, remedy } of batch.refused)
        gauge.refused({ where: `${pusher.name}, line ${line}`, what, remedy });
    }
    return tally;
  };
  const run = async (pusher: Pusher, body: PushBody, courier: CourierWord | null): Promise<PushOutcome> => {
    const unpacked = await unpackBody(body.bytes, body.packing, limits.bodyMaxBytes);
    const one = knownOf(pusher.name);
    if ('failed' in unpacked) {
      one.trouble = TROUBLES[unpacked.failed];
      return unpacked;
    }
    try {
      const answer = await store(pusher, unpacked.bytes);
      one.trouble = null;
      if (courier !== null) house.keepClock({ ...courier, at: house.nowMs() });
      return answer;
    } catch (error) {
      one.trouble = `what it sent could not be stored: ${error instanceof Error ? error.message : String(error)}`;
      return { failed: 'disk', error };
    }
  };
  return {
    name: config.name,
    start: gauge.connected,
    pusherOf: config.tokens === null ? null : createPushTokens(config.tokens),
    async take(pusher, body, courier) {
      if (isStopping) return { failed: 'stopping' };
      const againInS = rate.take(pusher.name);
      if (againInS > 0) {
        knownOf(pusher.name).trouble = TROUBLES.often;
        return { failed: 'often', againInS };
      }
      if (underWay.size >= limits.atOnce) return { failed: 'often', againInS: 1 };
      const work = run(pusher, body, courier);
      underWay.add(work);
      try {
        return await work;
      } finally {
        underWay.delete(work);
      }
    },
    status: () => gauge.status([...known].map(([name, one]) => partOf(name, one))),
    async stop() {
      isStopping = true;
      await Promise.allSettled(underWay);
      gauge.broken('it was stopped');
    },
  };
}

const TROUBLES = {
  large: 'its last body was too large, and nothing of it was stored',
  damaged: 'its last body was damaged, and nothing of it was stored',
  cut: 'its last body broke off, and nothing of it was stored',
  often: 'it asks too often, and is told to wait',
} as const;

const partOf = (name: string, { lastReadingAt, trouble }: Known): DevicePart => ({
  name,
  isAnswering: lastReadingAt !== null && trouble === null,
  lastReadingAt,
  trouble,
});
