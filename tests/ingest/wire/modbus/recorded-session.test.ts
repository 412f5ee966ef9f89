import { describe, expect, test } from 'vitest';
import { createDeviceReader } from '../../../../ingest/wire/modbus/device-reader.ts';
import type { RegisterRead } from '../../../../ingest/wire/modbus/dialogue.ts';
import { parseRecording, RecordedDevice, recordedLine } from '../../../../ingest/wire/modbus/recorded-session.ts';
import { createSunspecDevice } from '../sunspec/_chain.ts';
import { talk } from './_device.ts';

const SUNSPEC = createSunspecDevice([
  { model: 1, points: { Vr: '2.0' } },
  { model: 103, points: { W: 1215, W_SF: 0, St: 8 } },
]);

describe('RecordedDevice', () => {
  test('plays a session back to the same readings', () => {
    const lines: string[] = [];
    const keep = (read: RegisterRead) => {
      const answer = SUNSPEC.answer(read);
      lines.push(recordedLine({ t: 1000 + lines.length, address: 3, read, answer }));
      return answer;
    };
    const config = { site: 's', unit: 'u1', reads: 'sunspec' } as const;
    const live = createDeviceReader(config);
    talk(live.open(), keep);
    const first = talk(live.poll(0), keep);
    SUNSPEC.set('holding', 40_000 + 2 + 68 + 14, 900);
    const second = talk(live.poll(10), keep);
    const { reads, faults } = parseRecording(`${lines.join('\n')}\n`);
    expect(faults).toEqual([]);
    const device = new RecordedDevice(reads, 3);
    const answer = (read: RegisterRead) => device.answer(read);
    const replayed = createDeviceReader(config);
    talk(replayed.open(), answer);
    expect(talk(replayed.poll(0), answer)).toEqual(first);
    expect(talk(replayed.poll(10), answer)).toEqual(second);
    expect(device.missing).toEqual([]);
  });

  test('answers other questions from the registers that it holds, and says what it does not hold', () => {
    const read = { table: 'holding', address: 10, count: 3 } as const;
    const device = new RecordedDevice(
      [{ t: 0, address: 1, read, answer: { ok: true, words: Uint16Array.of(7, 8, 9) } }],
      1,
    );
    expect(device.answer({ table: 'holding', address: 11, count: 2 })).toEqual({
      ok: true,
      words: Uint16Array.of(8, 9),
    });
    expect(device.answer({ table: 'holding', address: 13, count: 1 })).toEqual({ ok: false, exception: 2 });
    expect(device.missing).toEqual([{ table: 'holding', address: 13, count: 1 }]);
  });
});

describe('parseRecording', () => {
  test('tells each line that is none, by its number', () => {
    const good = '{"t":5,"unit_address":1,"table":"holding","address":0,"count":2,"words":[1,2]}';
    const bad = [
      'nonsense',
      '7',
      good.replace('[1,2]', '[1]'),
      good.replace('holding', 'held'),
      good.replace('"count":2', '"count":200'),
    ];
    const { reads, faults } = parseRecording(
      [good, '', ...bad, good.replace('"words":[1,2]', '"exception":null')].join('\r\n'),
    );
    expect(reads).toHaveLength(2);
    expect(faults.map(({ line }) => line)).toEqual([3, 4, 5, 6, 7]);
  });
});
