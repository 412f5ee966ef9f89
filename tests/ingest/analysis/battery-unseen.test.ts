import { describe, expect, test } from 'vitest';
import { batteryUnseen } from '../../../ingest/analysis/battery-unseen.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

const SITE = siteOf({ intervalS: 60, packs: ['p1'] });
const SEES = { mode: 'grid', output_power_w: 500, dc_voltage_v: 52.1, battery_soc_pct: 80 };
const BLIND = { mode: 'grid', output_power_w: 500, dc_voltage_v: 52 };

function unit(
  id: string,
  second: number,
  spans: readonly (readonly [string, string])[] = [],
  blind: Partial<Line> = BLIND,
): Line[] {
  return lines('09:00', '12:00', 60, (t) => ({
    unit: id,
    ...(spans.some(([from, to]) => t >= at(from) && t < at(to)) ? blind : SEES),
  })).map((line) => ({ ...line, t: line.t + second * 1000 }));
}

describe('batteryUnseen', () => {
  test.each([
    ['all see it, nothing', [...unit('u1', 0), ...unit('u2', 5)], []],
    [
      'unseen by a follower points at the link',
      [...unit('u1', 0), ...unit('u2', 5, [['10:00', '11:00']])],
      ['battery_unseen u2 10:00:05 seen 10:10:05 to 11:00:05 soon parallel_link'],
    ],
    [
      'unseen by all points at the data cable, and is one finding, of its owner',
      [...unit('u1', 0, [['10:00', '11:00']]), ...unit('u2', 5, [['10:00', '11:00']])],
      ['battery_unseen u1 10:00:00 seen 10:10:00 to 11:00:00 soon data_cable'],
    ],
    [
      'a gap in the readings of one unit makes no second condition of the other',
      [
        ...unit('u1', 0, [['10:00', '12:00']]).filter(({ t }) => t < at('10:30') || t > at('10:35')),
        ...unit('u2', 5, [['10:00', '12:00']]),
      ],
      ['battery_unseen u1 10:00:00 seen 10:10:00 to now soon data_cable'],
    ],
    [
      'unseen with the voltage gone too points at the breaker',
      [
        ...unit('u1', 0),
        ...unit('u2', 5, [['10:00', '11:00']], { mode: 'grid', output_power_w: 500, dc_voltage_v: 12 }),
      ],
      ['battery_unseen u2 10:00:05 seen 10:10:05 to 11:00:05 soon battery_breaker'],
    ],
    [
      'the voltage no longer sent is gone',
      [...unit('u1', 0), ...unit('u2', 5, [['10:00', '11:00']], { mode: 'grid', output_power_w: 500 })],
      ['battery_unseen u2 10:00:05 seen 10:10:05 to 11:00:05 soon battery_breaker'],
    ],
    ['nine minutes are not long enough', [...unit('u1', 0), ...unit('u2', 5, [['10:00', '10:10']])], []],
    [
      'a unit switched off says nothing about the battery',
      [...unit('u1', 0), ...unit('u2', 5, [['10:00', '11:00']], { mode: 'off' })],
      [],
    ],
    [
      'silence is not blindness',
      [...unit('u1', 0), ...unit('u2', 5).filter(({ t }) => t < at('10:00') || t > at('11:00'))],
      [],
    ],
    [
      'a unit that never sends it, where another does, does not see it',
      [...unit('u1', 0), ...unit('u2', 5, [['09:00', '12:00']])],
      ['battery_unseen u2 09:00:05 seen 09:10:05 to now soon parallel_link'],
    ],
    [
      'where no unit ever sends it, nothing',
      [...unit('u1', 0, [['09:00', '12:00']]), ...unit('u2', 5, [['09:00', '12:00']])],
      [],
    ],
  ])('%s', (_, log, expected) => {
    check(batteryUnseen, SITE, log, expected);
  });

  test('a follower that stays blind once the others see again is found in its own right', () => {
    const log = [...unit('u1', 0, [['10:00', '10:30']]), ...unit('u2', 5, [['10:00', '11:00']])];
    check(batteryUnseen, SITE, log, [
      'battery_unseen u1 10:00:00 seen 10:10:00 to 10:30:00 soon data_cable',
      'battery_unseen u2 10:30:00 seen 10:40:05 to 11:00:05 soon parallel_link',
    ]);
  });

  test('a battery setting that differs is the likeliest cause', () => {
    const settings = [
      { t: at('09:00'), unit: 'u1', settings: { battery_type: 'lithium' } },
      { t: at('09:00'), unit: 'u2', settings: { battery_type: 'lithium' } },
      { t: at('09:59'), unit: 'u2', settings: { battery_type: 'lead_acid' } },
    ];
    const log = [...unit('u1', 0), ...unit('u2', 5, [['10:00', '11:00']]), ...settings];
    check(batteryUnseen, SITE, log, ['battery_unseen u2 10:00:05 seen 10:10:05 to 11:00:05 soon setting']);
    const [finding] = findingsOf(batteryUnseen, SITE, log);
    expect(finding!.evidence).toMatchObject({
      unseen_by: ['u2'],
      seen_by: ['u1'],
      settings_that_differ: ['battery_type'],
    });
    expect(finding!.baseline).toBe(80);
    expect(finding!.causes.reduce((sum, { weight }) => sum + weight, 0)).toBeCloseTo(1, 9);
  });

  test('cut at any time the log says what was said live, across midnight', () => {
    const log = ['u1', 'u2'].flatMap((id, k) =>
      lines('23:00', '+1 01:00', 60, (t) => ({
        unit: id,
        ...((id === 'u2' && t >= at('23:55')) || t >= at('+1 00:30') ? BLIND : SEES),
      })).map((line) => ({ ...line, t: line.t + 5000 * k })),
    );
    check(batteryUnseen, SITE, log, [
      'battery_unseen u2 23:55:05 seen +1 00:05:05 to now soon parallel_link',
      'battery_unseen u1 +1 00:30:00 seen +1 00:40:00 to now soon data_cable',
    ]);
    checkEveryCut(batteryUnseen, SITE, log);
  }, 30_000);
});
