import { describe, expect, test } from 'vitest';
import { type AlarmsState, alarms, withAlarms } from '../../../ingest/analysis/alarms.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { at, foldLog, type Line, siteOf } from './_check.ts';

const raised = (time: string, unit: string, alarm: string): Line => ({ t: at(time), unit, alarm, state: 'raised' });
const cleared = (time: string, unit: string, alarm: string): Line => ({ t: at(time), unit, alarm, state: 'cleared' });
const stateOf = (log: readonly Line[]): AlarmsState => foldLog(alarms, siteOf(), log);

function finding(subject: string | null, from: string, to: string | null, candidates?: readonly string[]): Finding {
  return {
    site: 'millpond',
    kind: 'share_drift',
    subject,
    ...(candidates === undefined ? {} : { candidates }),
    start: epochMs(at(from)),
    detectedAt: epochMs(at(from)),
    end: to === null ? null : epochMs(at(to)),
    severity: 'soon',
    measure: 'share of output power',
    value: null,
    baseline: null,
    limit: null,
    causes: [],
    evidence: { mode: 'grid' },
  };
}

const LOG = [
  raised('08:00', 'u1', 'fan'),
  cleared('08:30', 'u1', 'fan'),
  raised('09:05', 'u1', 'over temperature'),
  raised('09:05', 'u2', 'link lost'),
  cleared('+1 01:00', 'u1', 'over temperature'),
];

describe('alarms', () => {
  test('those of the subject that stood in its time are set beside it', () => {
    const [told] = withAlarms([finding('u1', '09:00', '10:00')], stateOf(LOG));
    expect(told!.evidence).toEqual({
      mode: 'grid',
      alarms: ['u1: over temperature, 2026-03-02T09:05:00.000Z'],
      alarms_count: 1,
    });
  });

  test('one shortly before may be the first word of the same', () => {
    const [told] = withAlarms([finding('u1', '08:38', '09:00')], stateOf(LOG));
    expect(told!.evidence.alarms_count).toBe(1);
  });

  test('what concerns the site, or one of several, has those of all of them', () => {
    const state = stateOf(LOG);
    const [site, either] = withAlarms(
      [finding('site', '09:00', null), finding(null, '09:00', null, ['u2', 'p1'])],
      state,
    );
    expect(site!.evidence.alarms_count).toBe(2);
    expect(either!.evidence.alarms).toEqual(['u2: link lost, 2026-03-02T09:05:00.000Z']);
  });

  test('a finding without any says nothing of alarms, and no alarm makes a finding', () => {
    const state = stateOf(LOG);
    const quiet = finding('p1', '09:00', null);
    expect(withAlarms([quiet], state)).toEqual([quiet]);
    expect(alarms.answer(state, siteOf(), epochMs(at('12:00'))).findings).toEqual([]);
  });

  test('one that is raised twice stood once', () => {
    const state = stateOf([raised('08:00', 'u1', 'fan'), raised('08:10', 'u1', 'fan'), cleared('08:20', 'u1', 'fan')]);
    expect(state).toEqual({
      standing: [],
      done: [{ id: 'u1', alarm: 'fan', raisedT: at('08:00'), clearedT: at('08:20') }],
    });
  });

  test('a long list is cut, and counted', () => {
    const many = Array.from({ length: 25 }, (_, k) => raised(`09:${String(10 + k)}`, 'u1', `number ${k}`));
    const [told] = withAlarms([finding('u1', '09:00', null)], stateOf(many));
    expect(told!.evidence.alarms).toHaveLength(10);
    expect(told!.evidence.alarms_count).toBe(25);
  });
});
