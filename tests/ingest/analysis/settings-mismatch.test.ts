import { describe, expect, test } from 'vitest';
import { settingsMismatch } from '../../../ingest/analysis/settings-mismatch.ts';
import type { SettingValue } from '../../../ingest/vocabulary/reading.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, recordOf, siteOf } from './_check.ts';

const SITE = siteOf();
const THREE = siteOf({ units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }] });
const set = (t: string, unit: string, settings: Record<string, SettingValue | null>): Line => ({
  t: at(t),
  unit,
  settings,
});
const all = (t: string, units: readonly string[], settings: Record<string, SettingValue>): Line[] =>
  units.map((u) => set(t, u, settings));
/** Readings every minute, so that time goes on. */
const pulse = (to = '12:00'): Line[] => lines('08:00', to, 60, () => ({ unit: 'u1', output_power_w: 1 }));

describe('settingsMismatch', () => {
  test.each([
    ['all the same, nothing', SITE, [...pulse(), ...all('09:00', ['u1', 'u2'], { battery_type: 'lithium' })], []],
    [
      'of two, the one that changed last is the odd one, until it is level again',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { battery_shared: true }),
        set('10:00', 'u2', { battery_shared: false }),
        set('11:00', 'u2', { battery_shared: true }),
      ],
      ['settings_mismatch u2 10:00:00 seen 10:15:00 to 11:00:00 soon'],
    ],
    [
      'of two that differ from the first, it cannot be told which',
      SITE,
      [...pulse(), set('09:00', 'u1', { battery_type: 'lithium' }), set('09:01', 'u2', { battery_type: 'lead' })],
      ['settings_mismatch null 09:01:00 seen 09:16:00 to now soon'],
    ],
    [
      'of three, the minority',
      THREE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { low_soc_cutoff_pct: 20 }),
        set('09:01', 'u3', { low_soc_cutoff_pct: 10 }),
      ],
      ['settings_mismatch u3 09:01:00 seen 09:16:00 to now soon'],
    ],
    [
      'units that are set up one after the other within a quarter of an hour are no mismatch',
      THREE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2', 'u3'], { output_voltage_setpoint_v: 230 }),
        set('10:00', 'u1', { output_voltage_setpoint_v: 240 }),
        set('10:07', 'u2', { output_voltage_setpoint_v: 240 }),
        set('10:14', 'u3', { output_voltage_setpoint_v: 240 }),
      ],
      [],
    ],
    [
      'made level at the very reading at which it would have counted, it never counted',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { battery_type: 'lithium' }),
        set('10:00', 'u2', { battery_type: 'lead' }),
        set('10:15', 'u2', { battery_type: 'lithium' }),
      ],
      [],
    ],
    [
      'each unit’s own quarter of an hour runs from its own change',
      siteOf({ units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }, { id: 'u4' }] }),
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2', 'u3', 'u4'], { low_soc_cutoff_pct: 20 }),
        set('10:00', 'u3', { low_soc_cutoff_pct: 10 }),
        set('10:10', 'u4', { low_soc_cutoff_pct: 15 }),
        set('10:20', 'u4', { low_soc_cutoff_pct: 20 }),
      ],
      ['settings_mismatch u3 10:00:00 seen 10:15:00 to now soon'],
    ],
    [
      'the reading that decides which unit is the odd one does not move the start',
      THREE,
      [
        ...pulse(),
        set('09:00', 'u1', { battery_type: 'lithium' }),
        set('09:01', 'u2', { battery_type: 'lead' }),
        set('09:10', 'u3', { battery_type: 'lithium' }),
      ],
      ['settings_mismatch u2 09:01:00 seen 09:16:00 to now soon'],
    ],
    [
      'where no reading follows the change, nobody has seen it stand',
      SITE,
      [
        ...lines('08:00', '10:01', 60, () => ({ unit: 'u1', output_power_w: 1 })),
        ...all('09:00', ['u1', 'u2'], { battery_type: 'lithium' }),
        set('10:00', 'u2', { battery_type: 'lead' }),
      ],
      [],
    ],
    [
      'a quarter of an hour runs on over midnight and over silence, to the next reading of anything',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { battery_type: 'lithium' }),
        set('23:50', 'u2', { battery_type: 'lead' }),
        { t: at('+3 07:30'), pack: 'p1', soc_pct: 50 },
      ],
      ['settings_mismatch u2 23:50:00 seen +3 07:30:00 to now soon'],
    ],
    [
      '"230" and 230.0 and 230 are the same',
      THREE,
      [
        ...pulse(),
        set('09:00', 'u1', { output_voltage_setpoint_v: 230 }),
        set('09:00', 'u2', { output_voltage_setpoint_v: '230' }),
        set('09:00', 'u3', { output_voltage_setpoint_v: '230.0' }),
      ],
      [],
    ],
    [
      'an undecided value compares with nothing',
      SITE,
      [...pulse(), set('09:00', 'u1', { battery_type: 'lithium' }), set('09:01', 'u2', { battery_type: null })],
      [],
    ],
    [
      'a site set up anew at one instant is no mismatch',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { output_voltage_setpoint_v: 230 }),
        ...all('10:00', ['u1', 'u2'], { output_voltage_setpoint_v: 240 }),
      ],
      [],
    ],
    [
      'a firmware that differs for under an hour is an update under way',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { firmware: '1.4.0' }),
        set('10:00', 'u2', { firmware: '1.5.0' }),
        set('10:59', 'u1', { firmware: '1.5.0' }),
      ],
      [],
    ],
    [
      'one that differs for longer is a mismatch since the change, seen at the first reading an hour on',
      SITE,
      [
        ...pulse('09:50'),
        ...pulse('12:00').filter(({ t }) => t > at('11:02')),
        ...all('09:00', ['u1', 'u2'], { firmware: '1.4.0' }),
        set('10:00', 'u2', { firmware: '1.5.0' }),
      ],
      ['settings_mismatch u2 10:00:00 seen 11:03:00 to now plan'],
    ],
    [
      'what an update resets with it is one finding',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { firmware: '1.4.0', battery_shared: true, battery_type: 'lithium' }),
        set('10:00', 'u2', { firmware: '1.5.0' }),
        set('10:02', 'u2', { battery_shared: false, battery_type: 'lead' }),
      ],
      ['settings_mismatch u2 10:02:00 seen 10:17:00 to now soon'],
    ],
    [
      'another key is compared only once a baseline has shown it equal',
      SITE,
      [
        ...pulse(),
        set('09:00', 'u1', { buzzer: 'on' }),
        set('09:00', 'u2', { buzzer: 'off' }),
        set('+8 09:00', 'u2', { buzzer: 'other' }),
      ],
      [],
    ],
    [
      'and then it is',
      SITE,
      [
        ...pulse(),
        ...all('09:00', ['u1', 'u2'], { buzzer: 'on' }),
        set('+8 09:00', 'u2', { buzzer: 'off' }),
        { t: at('+8 09:20'), unit: 'u1', output_power_w: 1 },
      ],
      ['settings_mismatch u2 +8 09:00:00 seen +8 09:20:00 to now plan'],
    ],
    [
      'the record’s expectation names the odd one',
      siteOf({ more: { expected_settings: { battery_type: 'lithium' } } }),
      [...pulse(), set('09:00', 'u2', { battery_type: 'lithium' }), set('09:01', 'u1', { battery_type: 'lead' })],
      ['settings_mismatch u1 09:01:00 seen 09:16:00 to now soon'],
    ],
    [
      'serial and phase are compared with the record, and never across units',
      siteOf({
        units: [
          { id: 'u1', serial: 'A-1042' },
          { id: 'u2', phase: 'L2' },
        ],
      }),
      [
        ...pulse(),
        set('09:00', 'u1', { serial: 'A-1042', phase: 'l1' }),
        set('09:00', 'u2', { serial: 'B-7', phase: 2 }),
        set('10:00', 'u1', { serial: 'A-9' }),
      ],
      ['settings_mismatch u1 10:00:00 seen 10:15:00 to now plan'],
    ],
  ])('%s', (_, site, log, expected) => {
    check(settingsMismatch, site, log, expected);
  });

  test('names the candidates where it cannot tell which, and the values', () => {
    const log = [
      ...pulse(),
      set('09:00', 'u1', { battery_type: 'lithium' }),
      set('09:01', 'u2', { battery_type: 'lead' }),
    ];
    const [finding] = findingsOf(settingsMismatch, SITE, log);
    expect(finding).toMatchObject({ subject: null, candidates: ['u1', 'u2'], measure: 'setting battery_type' });
    expect(finding!.evidence).toMatchObject({ settings: ['battery_type'], battery_type: ['u1 lithium', 'u2 lead'] });
  });

  test('a new document of the record is compared from its day on, said once it had a day to be put into effect', () => {
    const later = {
      ...recordOf({
        units: [{ id: 'u1', serial: 'B-1' }, { id: 'u2' }],
        more: { expected_settings: { low_soc_cutoff_pct: 30 } },
      }),
      validFrom: epochMs(at('+1 00:00')),
    };
    const site = { site: 'millpond', documents: [recordOf(), later] } as const;
    const log = [
      ...lines('08:00', '+2 02:00', 600, () => ({ unit: 'u1', output_power_w: 1 })),
      ...all('09:00', ['u1', 'u2'], { low_soc_cutoff_pct: 20 }),
      set('09:00', 'u1', { serial: 'A-1' }),
      set('+1 10:00', 'u1', { serial: 'B-1', low_soc_cutoff_pct: 30 }),
    ];
    check(settingsMismatch, site, log, ['settings_mismatch u2 +1 00:00:00 seen +2 00:00:00 to now soon']);
    checkEveryCut(settingsMismatch, site, log);
  }, 30_000);

  test('cut at any time the log says what was said live', () => {
    const log = [
      ...lines('22:30', '+1 01:00', 60, () => ({ unit: 'u1', output_power_w: 1 })),
      ...all('22:31', ['u1', 'u2'], { firmware: '1', battery_shared: true, battery_type: 'lithium' }),
      set('23:00', 'u1', { battery_shared: false }),
      set('23:20', 'u1', { battery_shared: true }),
      set('23:30', 'u2', { firmware: '2' }),
      set('23:40', 'u2', { battery_type: 'lead' }),
      set('23:50', 'u1', { battery_shared: false }),
      set('23:59', 'u1', { battery_shared: true }),
    ];
    check(settingsMismatch, SITE, log, [
      'settings_mismatch u1 23:00:00 seen 23:15:00 to 23:20:00 soon',
      'settings_mismatch u2 23:40:00 seen 23:55:00 to now soon',
    ]);
    checkEveryCut(settingsMismatch, SITE, log);
    const [, update] = findingsOf(settingsMismatch, SITE, log);
    expect(update!.evidence.settings).toEqual(['battery_type', 'firmware']);
  }, 30_000);
});
