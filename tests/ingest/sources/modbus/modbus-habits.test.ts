/** The whole source against devices with awkward habits: no wrong value is stored, and it recovers by itself. */
import { describe, expect, onTestFinished, type TestContext, test } from 'vitest';
import type { LiveDoor } from '../../../../ingest/intake/live-door.ts';
import type { LiveSource } from '../../../../ingest/sources/live-source.ts';
import type { ModbusConfig, ModbusDevice } from '../../../../ingest/sources/modbus/modbus-config.ts';
import { createModbusSource } from '../../../../ingest/sources/modbus/modbus-source.ts';
import { columnOf } from '../../../../ingest/vocabulary/quantities.ts';
import { parseProfile } from '../../../../ingest/wire/modbus/profile.ts';
import {
  answerAtOnce,
  type Framing,
  type Script,
  type ScriptedPeer,
  startScriptedModbus,
  valueAt,
  valuesOf,
} from '../../../peers/_scripted-modbus.ts';

const EVERY_MS = 200;
const TIMEOUT_MS = 60;
const POWER = 30;
/** Values over 57 registers, near enough to one another that one request asks for all of them. */
const PROFILE = parseProfile(
  `profile: wide
registers:
${Array.from({ length: 8 }, (_, i) => `  - { quantity: ${['output_power_w', 'output_apparent_va', 'output_reactive_var', 'grid_power_w', 'grid_import_wh', 'output_power_l1_w', 'output_energy_wh', 'output_power_l2_w'][i]}, table: holding, address: ${POWER + i * 8}, type: uint16 }`).join('\n')}
`,
  'wide.yaml',
);

interface Stored {
  readonly id: string;
  readonly t: number;
  readonly values: ReadonlyMap<number, number>;
}

function storeInto(stored: Stored[]): LiveDoor {
  return {
    store: async ({ sources, rows, rowsLength, readings }) => {
      for (let at = 0; at < rowsLength; at += 3 + 2 * rows[at + 2]!) {
        const values = new Map<number, number>();
        for (let k = 0; k < rows[at + 2]!; k += 1) values.set(rows[at + 3 + 2 * k]!, rows[at + 4 + 2 * k]!);
        stored.push({ id: sources[rows[at]!]!.id, t: rows[at + 1]!, values });
      }
      return { stored: readings, alreadyThere: 0 };
    },
  };
}

function sourceOn(
  peer: ScriptedPeer,
  framing: Framing,
  units: readonly (number | ModbusDevice)[],
  stored: Stored[],
  atEnd: TestContext['onTestFinished'] = onTestFinished,
): LiveSource {
  const config: ModbusConfig = {
    kind: 'modbus',
    name: 'modbus test',
    target: { kind: framing === 'tcp' ? 'tcp' : 'rtu_over_tcp', host: '127.0.0.1', port: peer.port },
    everyMs: EVERY_MS,
    timeoutMs: TIMEOUT_MS,
    devices: units.map((unit) =>
      typeof unit !== 'number'
        ? unit
        : {
            name: `u${unit} at address ${unit}`,
            address: unit,
            config: { site: 'millpond', unit: `u${unit}`, reads: { profile: PROFILE.profile! } },
          },
    ),
  };
  const source = createModbusSource(config, storeInto(stored), { nowMs: Date.now, say: () => undefined });
  atEnd(() => source.stop());
  source.start();
  return source;
}

async function peerWith(
  framing: Framing,
  script: Script,
  atEnd: TestContext['onTestFinished'] = onTestFinished,
): Promise<ScriptedPeer> {
  const peer = await startScriptedModbus(framing, script);
  atEnd(() => peer.stop());
  return peer;
}

const COLUMNS = PROFILE.profile!.registers.map(({ quantity, address }) => ({
  index: columnOf('unit', quantity)!.index,
  address,
}));

/** Every stored value is what that register of that unit holds. */
function expectRight(stored: readonly Stored[]): void {
  for (const { id, values } of stored) {
    const unit = Number(id.slice(1));
    for (const { index, address } of COLUMNS) {
      if (values.has(index)) expect(values.get(index), `${id} register ${address}`).toBe(valueAt(unit, address));
    }
  }
}

const wholeOf = (stored: readonly Stored[], id: string): number =>
  stored.filter((one) => one.id === id && COLUMNS.every(({ index }) => one.values.has(index))).length;
const some = { timeout: 15_000, interval: 20 };
const later = (ms: number, act: () => void): void => void setTimeout(act, ms);

/** Each goes wrong in its own way until it has been asked thirty times, or for one unit only, or always. */
const HABITS: readonly { readonly name: string; readonly framings: readonly Framing[]; readonly script: Script }[] = [
  {
    name: 'answers late, on whatever connection there is',
    framings: ['tcp', 'rtu'],
    script: (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      if (request.number % 3 === 1 && request.number < 30) later(TIMEOUT_MS * 1.3, () => peer.sendToNewest(bytes));
      else request.socket.write(bytes);
    },
  },
  {
    name: 'breaks off amid its answers',
    framings: ['tcp', 'rtu'],
    script: (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      if (request.number % 4 !== 0) request.socket.write(bytes);
      else {
        request.socket.write(bytes.subarray(0, 9));
        later(3, () => request.socket.resetAndDestroy());
      }
    },
  },
  {
    name: 'closes after each answer',
    framings: ['tcp', 'rtu'],
    script: (request, peer) => void request.socket.end(peer.answer(request, valuesOf(request))),
  },
  {
    name: 'refuses more than 50 registers',
    framings: ['tcp', 'rtu'],
    script: (request, peer) =>
      void request.socket.write(
        request.count > 50 ? peer.exception(request, 3) : peer.answer(request, valuesOf(request)),
      ),
  },
  ...[1, 2, 4, 6, 0x0b].map((code) => ({
    name: `answers with exception ${code} for a while`,
    framings: ['tcp', 'rtu'] as const,
    script: ((request, peer) =>
      void request.socket.write(
        request.number < 12 && request.number % 2 === 0
          ? peer.exception(request, code)
          : peer.answer(request, valuesOf(request)),
      )) satisfies Script,
  })),
  {
    name: 'answers for another unit',
    framings: ['tcp', 'rtu'],
    script: (request, peer) => {
      const unit = request.number < 12 ? request.unit + 1 : request.unit;
      const answer = { ...request, unit };
      request.socket.write(peer.answer(answer, valuesOf(answer)));
    },
  },
  {
    name: 'answers with another transaction number',
    framings: ['tcp'],
    script: (request, peer) => {
      // The foreign answer comes first, and after some requests it comes alone.
      request.socket.write(
        peer.answer({ ...request, transaction: request.transaction + 7 }, valuesOf({ ...request, unit: 60 })),
      );
      if (request.number % 5 !== 4 || request.number > 25)
        request.socket.write(peer.answer(request, valuesOf(request)));
    },
  },
  {
    name: 'sends noise before frames, and splits them',
    framings: ['rtu'],
    script: (request, peer) => {
      const bytes = Buffer.concat([Buffer.from([0, request.unit, 3, 0xff]), peer.answer(request, valuesOf(request))]);
      request.socket.write(bytes.subarray(0, 7));
      later(4, () => request.socket.write(bytes.subarray(7)));
    },
  },
  {
    name: 'has wrong check sums, short, long and empty answers',
    framings: ['rtu'],
    script: (request, peer) => {
      const bytes = peer.answer(request, valuesOf(request));
      const wrong = [
        bytes.map((byte, i) => (i === 5 ? byte ^ 1 : byte)),
        bytes.subarray(0, 6),
        Buffer.concat([bytes, bytes]),
        peer.answer(request, []),
      ];
      request.socket.write(request.number < 30 ? (wrong[request.number % 6] ?? bytes) : bytes);
    },
  },
];

describe.concurrent('createModbusSource and a device that', () => {
  const cases = HABITS.flatMap(({ name, framings, script }) => framings.map((framing) => ({ name, framing, script })));
  test.for(cases)('$name ($framing)', async ({ framing, script }, { expect, onTestFinished }) => {
    const stored: Stored[] = [];
    const peer = await peerWith(framing, script, onTestFinished);
    const source = sourceOn(peer, framing, [1, 2], stored, onTestFinished);
    // Two more whole readings of each once the habit has been lived through, whatever was refused before.
    await expect.poll(() => peer.requests.length, some).toBeGreaterThan(30);
    const before = stored.length;
    await expect.poll(() => wholeOf(stored.slice(before), 'u1'), some).toBeGreaterThan(1);
    await expect.poll(() => wholeOf(stored.slice(before), 'u2'), some).toBeGreaterThan(1);
    expectRight(stored);
    expect(source.status().parts.every(({ isAnswering }) => isAnswering)).toBe(true);
  });
});

/** A SunSpec device: the mark, model 1, model 103 with this power, and the end, from `base` on. */
function sunspecAt(base: number, powerW: number): Script {
  const model1 = [1, 66, ...Array<number>(66).fill(0)];
  const model103 = [103, 50, ...Array<number>(50).fill(0x8000)];
  model103[14] = powerW;
  model103[15] = 0;
  const words = [0x5375, 0x6e53, ...model1, ...model103, 0xffff, 0];
  return (request, peer) => {
    const asked = words.slice(request.address - base, request.address - base + request.count);
    const isThere = request.address >= base && asked.length === request.count;
    request.socket.write(isThere ? peer.answer(request, asked) : peer.exception(request, 2));
  };
}

describe('createModbusSource', () => {
  test('a SunSpec device whose chain moved is found again, and no other register is taken for its power', async () => {
    const peer = await peerWith('tcp', sunspecAt(40_000, 1215));
    const stored: Stored[] = [];
    const device = { name: 'u1', address: 1, config: { site: 'millpond', unit: 'u1', reads: 'sunspec' } } as const;
    sourceOn(peer, 'tcp', [device], stored);
    const power = columnOf('unit', 'output_power_w')!.index;
    const powers = () => stored.map(({ values }) => values.get(power)).filter((w) => w !== undefined);
    await expect.poll(() => powers().length, some).toBeGreaterThan(2);
    peer.script = sunspecAt(50_000, 900);
    await expect.poll(() => powers().at(-1), some).toBe(900);
    expect(new Set(powers())).toEqual(new Set([1215, 900]));
  });

  test('two sources on one peer go on beside one another, though it has room for one connection', async () => {
    const peer = await peerWith('tcp', answerAtOnce);
    const connected = new Set<ScriptedPeer['requests'][number]['socket']>();
    peer.script = (request, self) => {
      for (const other of connected) if (other !== request.socket) other.destroy();
      connected.clear();
      connected.add(request.socket);
      answerAtOnce(request, self);
    };
    const stored: [Stored[], Stored[]] = [[], []];
    sourceOn(peer, 'tcp', [1], stored[0]);
    sourceOn(peer, 'tcp', [2], stored[1]);
    await expect.poll(() => wholeOf(stored[0], 'u1'), some).toBeGreaterThan(5);
    await expect.poll(() => wholeOf(stored[1], 'u2'), some).toBeGreaterThan(5);
    expectRight([...stored[0], ...stored[1]]);
  });

  test('stops at once while a device keeps silent', async () => {
    const peer = await peerWith('tcp', () => undefined);
    const source = sourceOn(peer, 'tcp', [1, 2, 3], []);
    await expect.poll(() => peer.requests.length, some).toBeGreaterThan(0);
    await source.stop();
    await source.stop();
    expect(source.status().parts.every(({ isAnswering }) => !isAnswering)).toBe(true);
  });

  test('what can not be read is counted, sampled and said of its device', async () => {
    const peer = await peerWith('tcp', (request, self) => {
      const answer = self.answer(request, valuesOf(request));
      if (request.unit === 2) answer[8]! -= 2;
      request.socket.write(answer);
    });
    const source = sourceOn(peer, 'tcp', [1, 2], []);
    await expect.poll(() => source.status().refused, some).toBeGreaterThan(1);
    const { samples, parts } = source.status();
    expect(samples[0]).toMatchObject({ where: 'modbus test, address 2', what: expect.stringContaining('bytes') });
    expect(parts[1]!.trouble).not.toBeNull();
    expect(parts[0]!.trouble).toBeNull();
  });
});
