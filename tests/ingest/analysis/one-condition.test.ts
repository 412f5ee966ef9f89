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
});
