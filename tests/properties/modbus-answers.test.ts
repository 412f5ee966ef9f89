import { describe, expect, test } from 'vitest';
import { LOCKGATE_PROFILE, MILLRACE_PROFILE } from '../../ingest/demo/profiles.ts';
import { COLUMNS } from '../../ingest/vocabulary/quantities.ts';
import { BatchBuilder } from '../../ingest/wire/batch-builder.ts';
import type { DeviceConfig } from '../../ingest/wire/modbus/device-config.ts';
import { createDeviceReader } from '../../ingest/wire/modbus/device-reader.ts';
import type { Dialogue, ReadAnswer, RegisterRead } from '../../ingest/wire/modbus/dialogue.ts';
import { addPoll } from '../../ingest/wire/modbus/poll-result.ts';
import { parseProfile } from '../../ingest/wire/modbus/profile.ts';
import { createSunspecDevice } from '../ingest/wire/sunspec/_chain.ts';

/** Answers that go wrong in this test; all of them must be survived. */
const MUTATIONS = 100_000;
const SEED = 20_261_125;

/** A talk must end by itself after this many requests, whatever is answered. */
const MOST_REQUESTS = 400;

function xorshift(seed: number): (below: number) => number {
  let state = seed >>> 0 || 1;
  return (below) => {
    // xorshift32 (G. Marsaglia, "Xorshift RNGs", 2003)
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % below;
  };
}

const profileOf = (yaml: string): DeviceConfig['reads'] => {
  const { profile, mistakes } = parseProfile(yaml, 'demo.yaml');
  if (profile === null) throw new Error(JSON.stringify(mistakes));
  return { profile };
};

const CHAIN = createSunspecDevice([
  { model: 1, points: { Vr: '2.0', SN: 'X-1' } },
  { model: 103, points: { W: 1215, W_SF: 0, St: 8, PhVphA: 2300, PhVphB: 2310, V_SF: -1 } },
  { model: 701, points: { W: 5, W_SF: 0, InvSt: 3, DERMode: 1 } },
  { model: 713, points: { SoC: 50, Pct_SF: 0 } },
  { model: 802, points: { SoC: 50, SoC_SF: 0, A: -10, A_SF: 0, ChaSt: 3 } },
  { model: 803, groups: 2, points: { NStr: 2, '1.StrA': 4, A_SF: 0 } },
]);

const DEVICES: readonly DeviceConfig[] = [
  { site: 's', unit: 'u1', pack: 'p1', reads: 'sunspec' },
  { site: 's', packs: ['p1', 'p2'], strings: [1, 2], bank: 'bank', current_sign: 'charge_positive', reads: 'sunspec' },
  { site: 's', unit: 'u1', reads: profileOf(MILLRACE_PROFILE) },
  { site: 's', pack: 'p1', reads: profileOf(LOCKGATE_PROFILE) },
];

/** What a broken device, a broken line or a late answer could bring. */
function mutatedAnswer(good: ReadAnswer, read: RegisterRead, next: (below: number) => number): ReadAnswer {
  const words = good.ok ? Uint16Array.from(good.words) : new Uint16Array(read.count);
  switch (next(8)) {
    case 0:
      return { ok: false, exception: null };
    case 1:
      return { ok: false, exception: next(256) };
    case 2:
      return { ok: true, words: words.subarray(0, next(words.length + 1)) };
    case 3:
      return { ok: true, words: new Uint16Array(next(300)).fill(next(65_536)) };
    case 4:
      return { ok: true, words: words.fill([0, 0xffff, 0x8000, 0x7fc0, 1][next(5)]!) };
    default:
      for (let k = 1 + next(4); k > 0; k -= 1) if (words.length > 0) words[next(words.length)] = next(65_536);
      return { ok: true, words };
  }
}

describe('answers of a device that cannot be trusted', () => {
  test(`${MUTATIONS} mutated answers never throw, hang or grow, and what is kept can be stored (seed ${SEED})`, () => {
    let mutations = 0;
    let readings = 0;
    const builder = new BatchBuilder();
    for (let seed = SEED; mutations < MUTATIONS; seed += 1) {
      const next = xorshift(Math.imul(seed, 0x9e3779b1));
      const config = DEVICES[seed % DEVICES.length]!;
      const reader = createDeviceReader(config);
      const share = 1 + next(4);
      const run = <Result>(dialogue: Dialogue<Result>): Result => {
        let step = dialogue.next();
        for (let requests = 0; step.done !== true; requests += 1) {
          if (requests > MOST_REQUESTS) throw new Error(`seed ${seed}: the talk does not end`);
          const { table, address, count } = step.value;
          const isBit = table === 'coil' || table === 'discrete';
          if (count < 1 || count > (isBit ? 2000 : 125) || address < 0 || address + count > 65_536)
            throw new Error(`seed ${seed}: asked for ${count} at ${address}`);
          const isMutated = next(share) === 0;
          const good: ReadAnswer =
            config.reads === 'sunspec' ? CHAIN.answer(step.value) : { ok: true, words: new Uint16Array(count) };
          CHAIN.asked.length = 0;
          mutations += isMutated ? 1 : 0;
          step = dialogue.next(isMutated ? mutatedAnswer(good, step.value, next) : good);
        }
        return step.value;
      };
      let isOpen = false;
      for (let talks = 0; talks < 12; talks += 1) {
        if (!isOpen) {
          isOpen = run(reader.open()).state === 'open';
          continue;
        }
        const result = run(reader.poll(talks * 3_600_000));
        isOpen = !result.mustOpen;
        readings += addPoll(builder, result, talks);
        for (const { source, values } of result.readings) {
          for (let k = 0; k < values.length; k += 2) {
            if (COLUMNS[source.kind][values[k]!] === undefined || !Number.isSafeInteger(values[k + 1]))
              throw new Error(`seed ${seed}: column ${values[k]} holds ${values[k + 1]}`);
          }
        }
        // Each thing is said once, so that what is said in all is bounded too.
        if (result.notes.length > 100) throw new Error(`seed ${seed}: ${result.notes.length} notes`);
      }
      builder.finish();
    }
    expect(mutations).toBeGreaterThanOrEqual(MUTATIONS);
    expect(readings).toBeGreaterThan(1000);
  }, 120_000);
});
