import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type OpenLink, probeCommand } from '../../../ingest/commands/probe.ts';
import { createMemoryDevice, type MemoryDevice } from '../wire/modbus/_device.ts';
import { createSunspecDevice } from '../wire/sunspec/_chain.ts';
import { run } from './_stored.ts';

const PROFILE = `profile: two-column
word_order: low_first
registers:
  - { quantity: output_power_w, table: holding, address: 30, type: int32 }
  - { quantity: mode, table: holding, address: 40, type: uint16, states: { 2: grid } }
`;

let folder = '';
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'kilter-probe-'));
  writeFileSync(join(folder, 'good.yaml'), PROFILE);
  writeFileSync(join(folder, 'bad.yaml'), PROFILE.replace('int32', 'int33').replace('grid }', 'gird }'));
});
afterAll(() => rmSync(folder, { recursive: true }));

function linkTo(device: MemoryDevice): { openLink: OpenLink; opened: unknown[]; closed: () => number } {
  const opened: unknown[] = [];
  let closed = 0;
  const openLink: OpenLink = (target) => {
    opened.push(target);
    return {
      async read(_, read) {
        const answer = device.answer(read);
        return answer.ok ? answer : { ...answer, why: 'no answer within 1000 ms' };
      },
      async close() {
        closed += 1;
      },
    };
  };
  return { openLink, opened, closed: () => closed };
}

const battery = () =>
  createSunspecDevice([
    { model: 1, points: { Vr: '1.04', SN: 'A-1042' } },
    { model: 103, points: { W: 1215, W_SF: 0, St: 8 } },
    { model: 802, points: { SoC: 715, SoC_SF: -1, A: -42, A_SF: -1, ChaSt: 3, State: 3 } },
  ]);

describe('kilter probe', () => {
  test('reads a SunSpec device, prints raw and decoded, and proposes the sign of the current', async () => {
    const { openLink, opened, closed } = linkTo(battery());
    const { code, out } = await run([probeCommand(openLink)], ['probe', '--tcp', '10.0.0.9', '--reads', '1']);
    const text = out.join('\n');
    expect(code).toBe(0);
    expect([opened, closed()]).toEqual([[{ kind: 'tcp', host: '10.0.0.9', port: 502 }], 1]);
    expect(text).toContain('103 at 40070, 50 registers');
    expect(text).toMatch(/103 W +holding +40084 +04BF +1215 +1215/);
    expect(text).toMatch(/802 A +holding +\d+ +FFD6 +-42 +-4\.2/);
    expect(text).toContain('unit unit: output_power_w 1215, mode standby, firmware: 1.04, serial: A-1042');
    expect(text).toContain('current_sign: charge_positive; it says that it is discharging at -4.2 A');
  });

  test('with --json prints one object a line', async () => {
    const { openLink } = linkTo(battery());
    const { out } = await run([probeCommand(openLink)], ['probe', '--tcp', '[fd00::1]:1502', '--reads', '1', '--json']);
    const lines = out.map((line) => JSON.parse(line));
    expect(lines[0]).toEqual({ kind: 'device', is_answering: true });
    expect(lines).toContainEqual({
      kind: 'proposal',
      key: 'current_sign',
      value: 'charge_positive',
      because: expect.any(String),
    });
    expect(lines).toContainEqual({
      kind: 'value',
      name: '802 SoC',
      table: 'holding',
      address: 40133,
      words: [715],
      raw: 715,
      value: 71.5,
    });
  });

  test('keeps a session and runs a profile against it without the device', async () => {
    const device = createMemoryDevice({ 30: [1215, 0], 40: [9] });
    const { openLink } = linkTo(device);
    const file = join(folder, 'session.jsonl');
    const recorded = await run(
      [probeCommand(openLink)],
      ['probe', '--tcp', 'h:1', '--address', '7', '--registers', 'holding:28-42', '--record', file],
    );
    expect(recorded.code).toBe(0);
    expect(recorded.out).toHaveLength(4);
    expect(readFileSync(file, 'utf8').trimEnd().split('\n').length).toBe(device.asked.length);
    const noDevice: OpenLink = () => {
      throw new Error('no device is there');
    };
    const args = ['probe', '--replay', file, '--profile', join(folder, 'good.yaml')];
    const { code, out, err } = await run([probeCommand(noDevice)], args);
    const text = out.join('\n');
    expect(text).toMatch(/output_power_w +holding +30 +04BF 0000 +1215 +1215/);
    expect(text).toContain('absent: its raw value 9 is in no map');
    expect(text).toContain('word_order: low_first; output_power_w would be unlikely figures otherwise');
    expect(text).toContain('current_sign: cannot tell; no battery current was read');
    expect([code, err]).toEqual([2, []]);
    const again = await run([probeCommand(openLink)], ['probe', '--tcp', 'h:1', '--record', file]);
    expect([again.code, again.err[0]]).toEqual([1, expect.stringContaining('EEXIST')]);
  });

  test('a device that gives no answer is said so, with what the link says', async () => {
    const device = createMemoryDevice();
    device.quirk = () => ({ ok: false, exception: null });
    const { code, out, err } = await run(
      [probeCommand(linkTo(device).openLink)],
      ['probe', '--serial', '/dev/ttyX', '--reads', '1'],
    );
    expect([code, out[0]]).toEqual([1, expect.stringContaining('the device gives no answer')]);
    expect(err).toEqual(['/dev/ttyX: no answer within 1000 ms']);
  });

  test('every mistake of a profile is said with its place before anything is asked', async () => {
    const { openLink, opened } = linkTo(battery());
    const { code, err } = await run(
      [probeCommand(openLink)],
      ['probe', '--tcp', 'h:1', '--profile', join(folder, 'bad.yaml')],
    );
    expect([code, opened]).toEqual([1, []]);
    expect(err.join('\n')).toMatch(/line 4, column 62: registers\.0\.type is "int33"; give one of int16, uint16/);
    expect(err.join('\n')).toMatch(/line 5, column 76: mode knows no "gird"/);
  });

  test.each([
    [[], 'no device is named'],
    [['--tcp', 'h:1', '--replay', 'f'], 'both --tcp and --replay are given'],
    [['--tcp', 'h:99999'], '--tcp is "h:99999"'],
    [['--rtu-over-tcp', 'h'], '--rtu-over-tcp is "h"'],
    [['--tcp', 'h:1', '--baud', '9600'], '--baud says nothing beside --tcp'],
    [['--tcp', 'h:1', '--registers', 'holding:9-3'], '--registers is "holding:9-3"'],
  ])('refuses %j', async (args, what) => {
    const { code, err } = await run([probeCommand(linkTo(battery()).openLink)], ['probe', ...args]);
    expect([code, err[0]]).toEqual([1, expect.stringContaining(what)]);
  });

  test('--profile-schema prints a JSON Schema', async () => {
    const { code, out } = await run([probeCommand(linkTo(battery()).openLink)], ['probe', '--profile-schema']);
    expect([code, JSON.parse(out.join('\n')).title]).toEqual([0, 'Register profile']);
  });
});
