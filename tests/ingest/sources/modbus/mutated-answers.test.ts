/** Answers that were spoiled on the way: none crashes us, none holds us up, none is taken for what it is not. */
import fc from 'fast-check';
import { afterEach, describe, expect, test } from 'vitest';
import { createModbusLink, type ModbusLink } from '../../../../ingest/sources/modbus/modbus-link.ts';
import { type Framing, type ScriptedPeer, startScriptedModbus, valuesOf } from '../../../peers/_scripted-modbus.ts';

const COUNT = process.env.KILTER_LONG === '1' ? 100_000 : 2000;
const SEED = Number(process.env.KILTER_SEED ?? 20_261_125);
/** Frames that bring no answer cost this much each, so many run beside one another. */
const TIMEOUT_MS = 30;
const LANES = 50;

const opened: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of opened.splice(0)) await close();
});

type Spoil =
  | { readonly kind: 'flip'; readonly at: number; readonly bit: number }
  | { readonly kind: 'cut'; readonly at: number }
  | { readonly kind: 'insert'; readonly at: number; readonly bytes: Uint8Array }
  | { readonly kind: 'noise'; readonly bytes: Uint8Array }
  | { readonly kind: 'twice' }
  | { readonly kind: 'nothing' }
  | { readonly kind: 'hang-up'; readonly at: number };

const spoils: fc.Arbitrary<Spoil> = fc.oneof(
  fc.record({ kind: fc.constant('flip' as const), at: fc.nat(600), bit: fc.nat(7) }),
  fc.record({ kind: fc.constant('cut' as const), at: fc.nat(600) }),
  fc.record({
    kind: fc.constant('insert' as const),
    at: fc.nat(600),
    bytes: fc.uint8Array({ minLength: 1, maxLength: 20 }),
  }),
  fc.record({ kind: fc.constant('noise' as const), bytes: fc.uint8Array({ minLength: 1, maxLength: 600 }) }),
  fc.constant({ kind: 'twice' as const }),
  fc.constant({ kind: 'nothing' as const }),
  fc.record({ kind: fc.constant('hang-up' as const), at: fc.nat(600) }),
);

function spoiled(frame: Buffer, spoil: Spoil): Buffer {
  const at = 'at' in spoil ? spoil.at % frame.length : 0;
  switch (spoil.kind) {
    case 'flip': {
      const copy = Buffer.from(frame);
      copy[at]! ^= 1 << spoil.bit;
      return copy;
    }
    case 'cut':
    case 'hang-up':
      return frame.subarray(0, at);
    case 'insert':
      return Buffer.concat([frame.subarray(0, at), spoil.bytes, frame.subarray(at)]);
    case 'noise':
      return Buffer.from(spoil.bytes);
    case 'twice':
      return Buffer.concat([frame, frame]);
    case 'nothing':
      return frame;
  }
}

/** Modbus TCP has no check sum of its own, so a flipped or inserted data byte arrives as it is: TCP has let it through. */
const canPass = (framing: Framing, { kind }: Spoil): boolean =>
  kind === 'nothing' || kind === 'twice' || (framing === 'tcp' && (kind === 'flip' || kind === 'insert'));

async function lane(framing: Framing, all: readonly Spoil[]): Promise<{ peer: ScriptedPeer; link: ModbusLink }> {
  const peer = await startScriptedModbus(framing, (request, self) => {
    const spoil = all[(request.number - 1) % all.length]!;
    request.socket.write(spoiled(self.answer(request, valuesOf(request)), spoil));
    if (spoil.kind === 'hang-up') request.socket.destroy();
  });
  const kind = framing === 'tcp' ? 'tcp' : 'rtu_over_tcp';
  const link = createModbusLink(
    { kind, host: '127.0.0.1', port: peer.port },
    { timeoutMs: TIMEOUT_MS },
    { nowMs: Date.now, random: () => 0 },
  );
  opened.push(
    () => link.close(),
    () => peer.stop(),
  );
  return { peer, link };
}

describe.each(['tcp', 'rtu'] as const)('mutated answers over %s framing', (framing) => {
  test(
    `${COUNT / 2} of them: each is answered, each refusal is counted, no wrong value is taken, no memory grows`,
    async () => {
      const each = Math.ceil(COUNT / 2 / LANES);
      let wrong = 0;
      let right = 0;
      const before = process.memoryUsage().heapUsed;
      const work = Array.from({ length: LANES }, async (_, n) => {
        const all = fc.sample(spoils, { seed: SEED + n, numRuns: each });
        const { link, peer } = await lane(framing, all);
        let asked = 0;
        while (peer.requests.length < each) {
          const number = peer.requests.length;
          const address = (asked * 7) % 200;
          const unit = (asked % 5) + 1;
          let isSent = false;
          const read = { table: 'holding', address, count: (asked % 3) + 1 } as const;
          const answer = await link.read(unit, read, () => {
            isSent = true;
          });
          asked += 1;
          // After a peer that hung up before it ever answered the link bides its time.
          if (!isSent) await new Promise((resolve) => setTimeout(resolve, 20));
          if (!answer.ok) continue;
          const expected = valuesOf({ unit, address, count: answer.words.length });
          const isRight = expected.every((word, i) => word === answer.words[i]);
          if (isRight) right += 1;
          else if (!peer.requests.slice(number).some((_, i) => canPass(framing, all[(number + i) % all.length]!)))
            wrong += 1;
          if (!isRight && framing === 'rtu') wrong += 1;
        }
        const { requests, answers, exceptions, unanswered } = link.status();
        expect(requests).toBe(asked);
        expect(answers + exceptions + unanswered).toBe(asked);
        expect(link.status().samples.length).toBeLessThanOrEqual(20);
      });
      await Promise.all(work);
      expect(wrong, `seed ${SEED}`).toBe(0);
      expect(right).toBeGreaterThan(COUNT / 20);
      expect(process.memoryUsage().heapUsed - before).toBeLessThan(400e6);
    },
    process.env.KILTER_LONG === '1' ? 1_200_000 : 60_000,
  );
});
