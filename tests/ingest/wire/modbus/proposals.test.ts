import { describe, expect, test } from 'vitest';
import { type BatterySample, proposeCurrentSign } from '../../../../ingest/wire/modbus/propose-current-sign.ts';
import { proposeWordOrder, type WordSample } from '../../../../ingest/wire/modbus/propose-word-order.ts';

const sample = (type: WordSample['type'], ...reads: readonly (readonly number[])[]): WordSample => ({
  name: type,
  type,
  bytes: 'high_first',
  reads: reads.map((words) => Uint16Array.from(words)),
});

describe('proposeWordOrder', () => {
  test.each([
    ['a power of 1,215 W', [sample('int32', [0, 1215])], 'high_first'],
    ['a power of 1,215 W, low word first', [sample('int32', [1215, 0])], 'low_first'],
    ['−300 W', [sample('int32', [0xffff, 0xfed4])], 'high_first'],
    ['−300 W, low word first', [sample('int32', [0xfed4, 0xffff])], 'low_first'],
    ['a float of 230.0', [sample('float32', [0x4366, 0])], 'high_first'],
    ['a float of 230.0, low word first', [sample('float32', [0, 0x4366])], 'low_first'],
    ['a counter that moves by 3', [sample('uint32', [0x1234, 0x0a00], [0x1234, 0x0a03])], 'high_first'],
    ['a counter that moves by 3, low word first', [sample('uint32', [0x0a00, 0x1234], [0x0a03, 0x1234])], 'low_first'],
    ['zeros', [sample('int32', [0, 0])], null],
    ['a counter that stands still and could be either', [sample('uint32', [0x1234, 0x1200])], null],
    ['values that disagree', [sample('int32', [0, 5]), sample('uint32', [5, 0])], null],
    ['nothing', [], null],
  ] as const)('of %s: %j → %s', (_, samples, says) => {
    expect(proposeWordOrder(samples).says).toBe(says);
  });
});

const battery = (rest: Partial<BatterySample>): BatterySample => ({
  ...{ currentA: 12, state: null, socPct: null, mode: null, outputPowerW: null, pvPowerW: null },
  ...rest,
});

describe('proposeCurrentSign', () => {
  test.each([
    ['it charges at +12 A', [battery({ state: 'charging' })], 'charge_positive'],
    ['it discharges at −12 A', [battery({ state: 'discharging', currentA: -12 })], 'charge_positive'],
    ['it discharges at +12 A', [battery({ state: 'discharging' })], 'discharge_positive'],
    ['its charge rises at +12 A', [battery({ socPct: 50 }), battery({ socPct: 50.4 })], 'charge_positive'],
    ['its charge falls at +12 A', [battery({ socPct: 50 }), battery({ socPct: 49 })], 'discharge_positive'],
    [
      'it alone feeds 600 W in backup',
      [battery({ mode: 'backup', outputPowerW: 600, pvPowerW: 0 })],
      'discharge_positive',
    ],
    ['PV feeds too', [battery({ mode: 'backup', outputPowerW: 600, pvPowerW: 900 })], null],
    ['it is idle', [battery({ state: 'idle' })], null],
    ['hardly anything flows', [battery({ state: 'charging', currentA: 0.2 })], null],
    [
      'the current turned round between the reads',
      [battery({ socPct: 50 }), battery({ socPct: 51, currentA: -9 })],
      null,
    ],
    ['two things disagree', [battery({ state: 'charging', socPct: 50 }), battery({ socPct: 48 })], null],
    ['no current was read', [battery({ currentA: null, state: 'charging' })], null],
  ] as const)('where %s', (_, samples, says) => {
    expect(proposeCurrentSign(samples).says).toBe(says);
    expect(proposeCurrentSign(samples).because).not.toBe('');
  });
});
