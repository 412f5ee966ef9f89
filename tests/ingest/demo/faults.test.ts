import { describe, expect, test } from 'vitest';
import { createEffects, effectsAt, type FaultPlan, faultLabels } from '../../../ingest/demo/faults.ts';
import { CAUSES, FINDING_KINDS } from '../../../ingest/vocabulary/finding.ts';
import { DAY_MS, epochMs, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM } from './_sample-site.ts';

const start = epochMs(FROM + 10 * DAY_MS);
const end = epochMs(start + 6 * HOUR_MS);
const units = ['u1', 'u2'];
const packs = ['p1', 'p2'];

const ALL: readonly FaultPlan[] = [
  { what: 'loose_terminal', unit: 'u2', addedOhm: 0.02, rampDays: 4, start, end: null },
  {
    what: 'wrong_setting',
    unit: 'u2',
    key: 'output_voltage_setpoint_v',
    value: 231,
    emfShiftV: 1,
    after: 'an update',
    start,
    end: null,
  },
  { what: 'dead_fan', unit: 'u1', start, end: null },
  { what: 'output_open', unit: 'u1', start, end: null },
  { what: 'gauge_drift', pack: 'p1', pctPerDay: 1.5, start, end: null },
  { what: 'pack_open', pack: 'p2', start, end: null },
  { what: 'pack_resistance', pack: 'p2', factor: 4, start, end: null },
  { what: 'pack_capacity', pack: 'p1', factor: 0.7, rampDays: 2, start, end: null },
  { what: 'link_broken', unit: 'u2', start, end: null },
  { what: 'data_cable_broken', start, end: null },
  { what: 'overload', addedShare: 0.7, trips: true, start, end: null },
  { what: 'weak_voltage', sagOhm: 0.9, start, end: null },
  { what: 'unit_gateway_dead', unit: 'u1', start, end },
  { what: 'pack_line_dead', pack: 'p2', start, end: null },
  { what: 'router_down', start, end },
];

describe('effectsAt', () => {
  test('before its start no fault changes anything', () => {
    const effects = createEffects(2, 2);
    effectsAt(effects, ALL, units, packs, start - 1);
    expect(effects).toEqual(createEffects(2, 2));
  });

  test.each(ALL)('$what changes something once it has begun', (fault) => {
    const effects = createEffects(2, 2);
    effectsAt(effects, [fault], units, packs, start + HOUR_MS);
    expect(effects).not.toEqual(createEffects(2, 2));
  });

  test('a terminal works loose over its days and then stays', () => {
    const effects = createEffects(2, 2);
    const ohmAfter = (days: number) => {
      effectsAt(effects, ALL.slice(0, 1), units, packs, start + days * DAY_MS);
      return effects.addedOhm[1]!;
    };
    expect(ohmAfter(1)).toBeCloseTo(0.005, 9);
    expect(ohmAfter(4)).toBeCloseTo(0.02, 9);
    expect(ohmAfter(20)).toBeCloseTo(0.02, 9);
  });

  test('a fault that ends leaves nothing behind', () => {
    const effects = createEffects(2, 2);
    const router = ALL.filter((fault) => fault.what === 'router_down');
    effectsAt(effects, router, units, packs, start + HOUR_MS);
    expect(effects.siteSilent).toBe(true);
    effectsAt(effects, router, units, packs, end);
    expect(effects.siteSilent).toBe(false);
  });
});

describe('faultLabels', () => {
  test('labels are in the words of the vocabulary and causes belong to their kind', () => {
    const labels = faultLabels(ALL);
    expect(labels).toHaveLength(ALL.length - 2);
    const causes: Readonly<Record<string, readonly string[]>> = CAUSES;
    for (const label of labels) {
      expect(FINDING_KINDS).toContain(label.kind);
      expect(label.note.length).toBeGreaterThan(10);
      if (label.cause !== undefined) expect(causes[label.kind]).toContain(label.cause);
    }
    expect(labels.find((label) => label.kind === 'site_silent')).toMatchObject({
      subject: 'site',
      end: '2026-03-12T06:00:00.000Z',
    });
  });
});
