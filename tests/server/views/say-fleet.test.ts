import { describe, expect, test } from 'vitest';
import type { FleetRow } from '../../../server/contract/read-fleet.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { barHeight, ribbonMarks } from '../../../server/views/ribbon.ts';
import {
  sayCharge,
  sayFleet,
  sayFleetTally,
  sayHeard,
  sayHeld,
  sayRatings,
  sayRow,
} from '../../../server/views/say-fleet.ts';
import { compareRows, siteState } from '../../../server/views/severity.ts';

const now = Date.parse('2026-04-14T06:40:00Z');
const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now };
const DAY = 86_400_000;
const beyond = { measure: 'share', mode: 'grid', subject: 'u1', then: 0.5, now: 0.45, limit: 0.03 } as const;
const plain = (text: string): string => text.replaceAll('\u00a0', ' ');

function row(
  site: string,
  severity: 'urgent' | 'soon' | 'plan' | 'info' | null,
  more: Partial<FleetRow> = {},
): FleetRow {
  const worst: FleetRow['worst'] =
    severity === null
      ? null
      : {
          site,
          kind: 'battery_unseen',
          subject: 'u2',
          start: now - DAY,
          detectedAt: now - DAY,
          end: null,
          severity,
          measure: '',
          value: null,
          baseline: null,
          limit: null,
          causes: [],
          evidence: {},
        };
  return {
    site,
    name: site,
    group: null,
    zone: 'Europe/Lisbon',
    ratingsW: [8000, 8000],
    everyMs: 10_000,
    open: { urgent: 0, soon: 0, plan: 0, info: 0 },
    worst,
    deviation: { measure: 'share', mode: 'grid', subject: 'u1', then: 0.5, now: 0.51, limit: 0.03 },
    because: null,
    isProven: true,
    chargePct: [71, 93],
    chargeAt: now,
    reservePct: 20,
    heardAt: now - 2000,
    events: [],
    silences: [],
    ...more,
  };
}
const lost = { start: now - 2 * DAY, lengthMs: 600_000, held: false, outputLostS: 20, occasion: 'unknown' } as const;
const held = { ...lost, start: now - DAY, held: true, outputLostS: 0 } as const;

describe('the first lines of the fleet', () => {
  test('how many sites need somebody', () => {
    expect(sayFleet({ rows: [] }, saying)).toBe('No site is recorded yet.');
    expect(sayFleet({ rows: [row('a', 'plan'), row('b', null)] }, saying)).toBe(
      'No site needs anybody before the next grid loss.',
    );
    expect(sayFleet({ rows: [row('a', 'urgent'), row('b', 'soon'), row('c', 'info')] }, saying)).toBe(
      'Two of 3 sites need somebody before the next grid loss.',
    );
    expect(sayFleet({ rows: [row('a', 'urgent')] }, saying)).toBe(
      'One of 1 site needs somebody before the next grid loss.',
    );
    expect(sayFleet({ rows: [row('a', 'urgent'), row('b', null)] }, saying)).toBe(
      'One of 2 sites needs somebody before the next grid loss.',
    );
  });

  test('what is what, and how often the grid failed; tests stay out', () => {
    const rows = [
      row('a', 'urgent', { events: [lost, held] }),
      row('b', null, { deviation: null, because: 'learning', isProven: false }),
      row('c', null, { events: [{ ...held, occasion: 'test' }] }),
    ];
    expect(sayFleetTally({ rows }, saying)).toBe(
      'One urgent, one to prove, one level. In 30 days the grid failed 2 times at one site; power stayed on all but once.'.replace(
        '2 times',
        'twice',
      ),
    );
  });
});

describe('a row', () => {
  test('its mark is its worst finding; what is only worth knowing asks for nobody', () => {
    expect(siteState(row('a', 'info'), now)).toBe('level');
    expect(siteState(row('a', null, { deviation: null, isProven: false }), now)).toBe('prove');
    expect(siteState(row('a', null, { deviation: null }), now)).toBe('unclear');
    expect(siteState(row('a', null, { heardAt: now - 2 * DAY }), now)).toBe('unclear');
    expect(siteState(row('a', null, { deviation: beyond }), now)).toBe('watch');
    const rows = [
      row('level', null),
      row('Site 10', null, { deviation: beyond }),
      row('Site 9', null, { deviation: beyond }),
      row('unclear', null, { deviation: null }),
      row('prove', null, { deviation: null, isProven: false }),
      row('soon', 'soon'),
      row('urgent', 'urgent'),
      row('plan', 'plan'),
    ];
    expect(rows.sort(compareRows(saying)).map(({ site }) => site)).toEqual([
      'urgent',
      'soon',
      'plan',
      'Site 9',
      'Site 10',
      'prove',
      'unclear',
      'level',
    ]);
  });

  test('says why nothing is said: not proven, not told now, or beyond its limit for too short a time', () => {
    expect(sayRow(row('a', null), saying)).toBe('');
    expect(
      sayRow(row('a', null, { deviation: null, because: 'two loaded days are in', isProven: false }), saying),
    ).toBe('Not proven yet: two loaded days are in.');
    expect(sayRow(row('a', null, { deviation: null, because: 'no load above 20 % since' }), saying)).toBe(
      'Proven, but nothing can be told now: no load above 20 % since.',
    );
    expect(sayRow(row('a', null, { deviation: beyond }), saying)).toBe(
      'u1, share of output stands −5.0 from what was proven (limit 3.0), not yet for long enough to be sure.',
    );
  });

  test('ratings, charge, held and heard in few signs', () => {
    expect(plain(sayRatings([8000, 8000]))).toBe('2 × 8 kW');
    expect(plain(sayRatings([8000, 5500]))).toBe('8 + 5.5 kW');
    expect(plain(sayCharge({ chargePct: [71, 93] }))).toBe('71–93 %');
    expect(plain(sayCharge({ chargePct: [93, 95, null] }))).toBe('93 %');
    expect(sayCharge({ chargePct: [null] })).toBe('–');
    expect(sayHeld({ events: [lost, held, { ...held, occasion: 'test' }] })).toBe('1/2');
    expect(sayHeld({ events: [] })).toBe('');
    expect(plain(sayHeard({ heardAt: now - (34 * 3600 + 42 * 60) * 1000 }, saying))).toBe('34 h 42 min');
    expect(sayHeard({ heardAt: null }, saying)).toBe('never');
  });

  test('the ribbon: a bar of four hours is full, a short one still seen, a lasting silence without end', () => {
    expect(barHeight(4 * 3_600_000)).toBe(14);
    expect(barHeight(9 * 3_600_000)).toBe(14);
    expect(barHeight(1000)).toBe(2.5);
    const { bars, gaps } = ribbonMarks(
      {
        everyMs: 10_000,
        events: [lost],
        silences: [
          { start: now - DAY, lengthMs: null },
          { start: now - 3 * DAY, lengthMs: 59_000 },
        ],
      },
      now - 30 * DAY,
      now,
      300,
    );
    expect(bars[0]).toMatchObject({ x: 280, isLost: true });
    expect(gaps).toHaveLength(1);
    expect(gaps[0]!.width).toBeNull();
  });
});
