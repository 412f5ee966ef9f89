import { describe, expect, test } from 'vitest';
import { settingsDue, settingsOf } from '../../../ingest/demo/settings-lines.ts';
import { DAY_MS, epochMs, HOUR_MS, MINUTE_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM, sampleSite } from './_sample-site.ts';

const at = epochMs(FROM + 3 * DAY_MS + 10 * HOUR_MS);

describe('settingsDue', () => {
  test('settings are sent once a day by each unit, and again when they change', () => {
    const plan = sampleSite({ firmware: { at, version: '4.15.0', stepMs: 12 * MINUTE_MS } });
    expect(settingsDue(plan, FROM).map(({ unit }) => unit)).toEqual([0, 1, 2]);
    const changeDay = settingsDue(plan, FROM + 3 * DAY_MS);
    expect(changeDay).toHaveLength(6);
    expect(changeDay[5]!.t - changeDay[3]!.t).toBe(24 * MINUTE_MS);
  });
});

describe('settingsOf', () => {
  test('a firmware update passes from unit to unit within half an hour', () => {
    const plan = sampleSite({ firmware: { at, version: '4.15.0', stepMs: 12 * MINUTE_MS } });
    const versions = (t: number) => plan.units.map((_, i) => settingsOf(plan, i, t).firmware);
    expect(new Set(versions(at - 1)).size).toBe(1);
    expect(versions(at + 13 * MINUTE_MS)).toEqual(['4.15.0', '4.15.0', '4.12.1']);
    expect(new Set(versions(at + 30 * MINUTE_MS))).toEqual(new Set(['4.15.0']));
  });

  test('a wrong setting and a new serial show from their instant on, on their unit only', () => {
    const plan = sampleSite({
      replacement: { unit: 'u2', at, serial: 'T-9', contactOhm: 0.005 },
      faults: [
        {
          what: 'wrong_setting',
          unit: 'u2',
          key: 'low_soc_cutoff_pct',
          value: 35,
          emfShiftV: 0,
          after: 'a replacement',
          start: at,
          end: null,
        },
      ],
    });
    expect(settingsOf(plan, 1, at - 1)).toMatchObject({ low_soc_cutoff_pct: 10, serial: plan.units[1]!.serial });
    expect(settingsOf(plan, 1, at)).toMatchObject({ low_soc_cutoff_pct: 35, serial: 'T-9' });
    expect(settingsOf(plan, 0, at)).toMatchObject({ low_soc_cutoff_pct: 10, serial: plan.units[0]!.serial });
  });
});
