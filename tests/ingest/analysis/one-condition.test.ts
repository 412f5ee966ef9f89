import { describe, expect, test } from 'vitest';
import { oneCondition } from '../../../ingest/analysis/one-condition.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { at } from './_check.ts';

function finding(kind: Finding['kind'], subject: string | null, start: string, over: Partial<Finding> = {}): Finding {
  return {
    site: 'millpond',
    kind,
    subject,
    start: epochMs(at(start)),
    detectedAt: epochMs(at(start) + 3_600_000),
    end: null,
    severity: 'soon',
    measure: '',
    value: 0.48,
    baseline: 0.54,
    limit: null,
    causes: [],
    evidence: {},
    ...over,
  };
}
const drift = (subject: string | null, start: string, mode: string, over: Partial<Finding> = {}): Finding =>
  finding('share_drift', subject, start, { evidence: { mode }, ...over });
const mismatch = (start: string, key = 'output_voltage_setpoint_v', over: Partial<Finding> = {}): Finding =>
  finding('settings_mismatch', 'u2', start, { evidence: { settings: [key] }, ...over });
const inShort = (findings: readonly Finding[]): string[] =>
  findings.map(({ kind, subject }) => `${kind} ${subject}`).sort();

/** The law holds in whatever order the findings come. */
function kept(...findings: Finding[]): string[] {
  const straight = inShort(oneCondition(findings));
  expect(inShort(oneCondition([...findings].reverse()))).toEqual(straight);
  return straight;
}

describe('oneCondition', () => {
  test('a drift on the grid and in backup of one unit is one drift, with the other’s figures', () => {
    const backup = drift('u2', '+1 10:00', 'backup', { value: 0.4, baseline: 0.5 });
    const [one, ...more] = oneCondition([backup, drift('u2', '10:00', 'grid')]);
    expect(more).toEqual([]);
    expect(one).toMatchObject({ start: at('10:00'), detectedAt: at('11:00'), end: null });
    expect(one!.evidence).toMatchObject({ mode: 'grid', backup_value: 0.4, backup_baseline: 0.5 });
  });

  test.each([
    ['of different units', drift('u1', '10:00', 'backup')],
    ['that was over before', drift('u2', '08:00', 'backup', { end: epochMs(at('09:00')) })],
    ['of the same mode', drift('u2', '12:00', 'grid')],
  ])('two drifts %s stay two', (_, other) => {
    expect(kept(drift('u2', '10:00', 'grid'), other)).toHaveLength(2);
  });

  test('a drift with a difference of settings behind it is that mismatch, and its figures are evidence', () => {
    const [one, ...more] = oneCondition([drift('u2', '10:05', 'grid'), mismatch('10:00')]);
    expect(more).toEqual([]);
    expect(one!.kind).toBe('settings_mismatch');
    expect(one!.evidence).toMatchObject({
      share_value: 0.48,
      share_baseline: 0.54,
      share_unit: 'u2',
      share_mode: 'grid',
    });
  });

  test.each([
    ['moves no share', mismatch('10:00', 'low_soc_cutoff_pct'), drift('u2', '10:05', 'grid')],
    ['came after the drift', mismatch('+9 10:00'), drift('u2', '10:05', 'grid')],
    [
      'has stood for weeks: a terminal that loosens now is not hidden',
      mismatch('10:00'),
      drift('u2', '+30 10:05', 'grid'),
    ],
    ['was put right before', mismatch('10:00', undefined, { end: epochMs(at('11:00')) }), drift('u2', '12:00', 'grid')],
  ])('a difference of settings that %s stands beside the drift', (_, setting, own) => {
    expect(kept(setting, own)).toEqual(['settings_mismatch u2', 'share_drift u2']);
  });

  test('in backup a difference shows only at the next outage, weeks later', () => {
    expect(kept(mismatch('10:00'), drift('u2', '+30 10:05', 'backup'))).toEqual(['settings_mismatch u2']);
  });

  test.each(['pack_not_carrying', 'soc_divergence'] as const)(
    'what an open %s covered does not come up again when that has ended before it',
    (kind) => {
      const first = finding('pack_not_carrying', 'p2', '10:00');
      const second = finding(kind, 'p2', '+2 10:00');
      expect(kept(first, second)).toEqual(['pack_not_carrying p2']);
      const ended = { ...first, end: epochMs(at('+2 08:00')), endToldAt: epochMs(at('+3 20:00')) };
      expect(kept(ended, second)).toEqual(['pack_not_carrying p2']);
      const later = finding(kind, 'p2', '+4 10:00');
      expect(kept(ended, later)).toEqual([`${kind} p2`, 'pack_not_carrying p2'].sort());
    },
  );

  test('a parting that two tests raise is the one raised first, and when its end was told is not said', () => {
    const first = finding('soc_divergence', 'p1', '10:00', { value: 1 });
    const second = finding('soc_divergence', 'p1', '11:00', {
      end: epochMs(at('20:00')),
      endToldAt: epochMs(at('22:00')),
    });
    expect(oneCondition([second, first])).toEqual([first]);
    expect(oneCondition([second])[0]).not.toHaveProperty('endToldAt');
  });

  test.each(['pack_not_carrying', 'pack_capacity_loss'] as const)('%s covers the parting of the same pack', (kind) => {
    expect(kept(finding(kind, 'p2', '10:00'), finding('soc_divergence', 'p2', '12:00'))).toEqual([`${kind} p2`]);
    expect(kept(finding(kind, 'p2', '10:00'), finding('soc_divergence', 'p3', '12:00'))).toHaveLength(2);
    const untold = finding('soc_divergence', null, '12:00', { candidates: ['p1', 'p2'] });
    expect(kept(finding(kind, 'p2', '10:00'), untold)).toEqual([`${kind} p2`]);
  });

  test('what has nothing to do with each other is left as it is', () => {
    const all = [
      finding('unit_silent', 'u1', '10:00'),
      finding('output_lost', 'site', '10:00'),
      drift('u1', '09:00', 'grid'),
    ];
    expect(oneCondition(all)).toEqual(expect.arrayContaining(all));
    expect(oneCondition(all)).toHaveLength(all.length);
  });

  describe('power that goes round', () => {
    const setpoint = [{ cause: 'setpoint_offset' as const, weight: 1 }];
    const round = (start: string, detected: string): Finding =>
      finding('circulating_power', 'site', start, { detectedAt: epochMs(at(detected)), value: 510 });
    const shifted = (detected: string): Finding =>
      drift('u2', '10:00', 'backup', { causes: setpoint, detectedAt: epochMs(at(detected)) });

    test('is the setpoint’s, and of the two the first raised speaks', () => {
      expect(kept(shifted('12:00'), round('11:00', '13:00'))).toEqual(['share_drift u2']);
      expect(kept(shifted('14:00'), round('11:00', '13:00'))).toEqual(['circulating_power site']);
      const [one] = oneCondition([shifted('12:00'), round('11:00', '13:00')]);
      expect(one!.evidence.circulating_power_w).toBe(510);
    });

    test('is the settings’ where they are known to differ, whenever that was raised', () => {
      const late = { detectedAt: epochMs(at('20:00')) };
      expect(kept(mismatch('10:00', undefined, late), round('11:00', '13:00'))).toEqual(['settings_mismatch u2']);
    });

    test('is its own condition beside a drift of another cause, or long before one', () => {
      expect(kept(drift('u2', '10:00', 'backup'), round('11:00', '13:00'))).toHaveLength(2);
      const later = drift('u2', '+3 10:00', 'backup', { causes: setpoint });
      expect(kept(later, round('11:00', '13:00'))).toHaveLength(2);
    });
  });

  test('an excursion by hunting is the hunting, one by overload is not', () => {
    const hunt = finding('hunting', 'site', '10:00');
    const swung = finding('frequency_excursion', 'site', '10:01', { causes: [{ cause: 'hunting', weight: 0.9 }] });
    const sagged = finding('frequency_excursion', 'site', '10:01', { causes: [{ cause: 'overload', weight: 0.9 }] });
    expect(kept(hunt, swung)).toEqual(['hunting site']);
    expect(kept(hunt, sagged)).toEqual(['frequency_excursion site', 'hunting site']);
  });

  test('a unit whose clock is known to be off by as much did not lose the grid alone', () => {
    const clockOff = (value: number): Finding => finding('clock_offset', 'u2', '09:00', { value });
    const alone = finding('single_unit_grid_loss', 'u2', '10:30', { end: epochMs(at('11:00')) });
    expect(kept(clockOff(-3600), alone)).toEqual(['clock_offset u2']);
    expect(kept(clockOff(20), alone)).toHaveLength(2);
  });

  test('a power that stands still is why every share moves, once it is known to', () => {
    const stuck = (quantity: string): Finding =>
      finding('stuck_reading', 'u1', '10:00', { evidence: { quantities: [quantity] } });
    const moved = drift('u2', '10:30', 'grid');
    expect(kept(stuck('output_power_w'), moved)).toEqual(['stuck_reading u1']);
    expect(kept(stuck('heatsink_temperature_c'), moved)).toHaveLength(2);
    const earlier = { ...moved, detectedAt: epochMs(at('10:40')) };
    expect(kept(stuck('output_power_w'), earlier)).toHaveLength(2);
  });

  test('a unit that sees no battery has no battery voltage that could be stuck', () => {
    const unseen = finding('battery_unseen', 'u3', '10:00', { detectedAt: epochMs(at('10:10')) });
    const stuck = (unit: string, quantity: string): Finding =>
      finding('stuck_reading', unit, '10:00', { evidence: { quantities: [quantity] } });
    expect(kept(unseen, stuck('u3', 'dc_voltage_v'))).toEqual(['battery_unseen u3']);
    expect(kept(unseen, stuck('u2', 'dc_voltage_v'))).toHaveLength(2);
    expect(kept(unseen, stuck('u3', 'output_power_w'))).toHaveLength(2);
  });
});
