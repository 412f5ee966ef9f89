import { describe, expect, test } from 'vitest';
import { findingJson } from '../../../ingest/commands/finding-json.ts';
import { sayCauses, sayFinding, sayWho } from '../../../ingest/commands/say-finding.ts';
import { sayCannotTell, sayFindings, sayLookedAt } from '../../../ingest/commands/say-findings.ts';
import { FINDING_KINDS, type Finding } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';

const time = (text: string) => epochMs(Date.parse(text));
const DRIFT: Finding = {
  site: 'millpond',
  kind: 'share_drift',
  subject: 'u2',
  start: time('2026-03-28T23:30:00Z'),
  detectedAt: time('2026-03-30T08:00:00Z'),
  end: null,
  severity: 'urgent',
  measure: 'share of output power',
  value: 0.4396,
  baseline: 0.491,
  limit: 0.03,
  causes: [
    { cause: 'feeder_resistance', weight: 0.92 },
    { cause: 'setpoint_offset', weight: 0.075 },
    { cause: 'unit_limited', weight: 0.005 },
  ],
  evidence: { mode: 'grid' },
};
const SILENCE: Finding = {
  ...DRIFT,
  kind: 'unit_silent',
  severity: 'soon',
  end: time('2026-03-29T03:00:00Z'),
  value: 30,
  causes: [],
};

describe('findingJson', () => {
  test('prints the example of the contract key by key', () => {
    expect(JSON.stringify(findingJson(DRIFT))).toBe(
      '{"site":"millpond","kind":"share_drift","subject":"u2","start":"2026-03-28T23:30:00.000Z",' +
        '"detected_at":"2026-03-30T08:00:00.000Z","end":null,"severity":"urgent","measure":"share of output power",' +
        '"value":0.4396,"baseline":0.491,"limit":0.03,"causes":[{"cause":"feeder_resistance","weight":0.92},' +
        '{"cause":"setpoint_offset","weight":0.075},{"cause":"unit_limited","weight":0.005}],"evidence":{"mode":"grid"}}',
    );
  });

  test('names candidates only where the subject can not be told', () => {
    const untold = findingJson({ ...DRIFT, subject: null, candidates: ['u1', 'u2'] });
    expect(untold).toMatchObject({ subject: null, candidates: ['u1', 'u2'] });
    expect(findingJson(DRIFT)).not.toHaveProperty('candidates');
  });
});

describe('sayFinding', () => {
  test('tells a drift to the day of the site, not of UTC', () => {
    expect(sayFinding(DRIFT, 'UTC')).toBe('u2 has carried 44.0 % instead of 49.1 % since 28 March 2026');
    expect(sayFinding(DRIFT, 'Europe/Berlin')).toBe('u2 has carried 44.0 % instead of 49.1 % since 29 March 2026');
  });

  test('tells a sudden thing to the minute, with the offset of the zone at that time', () => {
    expect(sayFinding(SILENCE, 'Europe/Lisbon')).toBe(
      'u2 sent nothing from 28 March 2026, 23:30 +00:00 to 29 March 2026, 04:00 +01:00',
    );
  });

  test('says the day once where it began and ended on one', () => {
    const until = (end: string) => sayFinding({ ...SILENCE, end: time(end) }, 'Europe/Berlin');
    expect(until('2026-03-28T23:50:00Z')).toBe('u2 sent nothing from 29 March 2026, 00:30 to 00:50 +01:00');
    expect(until('2026-03-28T23:30:59Z')).toBe('u2 sent nothing on 29 March 2026, 00:30 +01:00');
    // The clock goes forward at 01:00 UTC: the offset must be said of both.
    expect(until('2026-03-29T01:30:00Z')).toBe(
      'u2 sent nothing from 29 March 2026, 00:30 +01:00 to 29 March 2026, 03:30 +02:00',
    );
  });

  test('names all that it may be where it can not be told', () => {
    expect(sayWho({ ...DRIFT, subject: null, candidates: ['p1', 'p2'] })).toBe('p1 or p2');
    expect(sayWho({ ...DRIFT, subject: 'site' })).toBe('the site');
  });

  test.each(FINDING_KINDS)('has a sentence for %s that never says NaN or null, figures known or not', (kind) => {
    const unknown: Finding = { ...DRIFT, kind, value: null, baseline: null, limit: null, evidence: {} };
    const ended: Finding = { ...DRIFT, kind, end: time('2026-04-02T00:00:00Z') };
    for (const finding of [unknown, ended]) {
      expect(sayFinding(finding, 'UTC')).not.toMatch(/NaN|null|undefined/);
      expect(sayFinding(finding, 'UTC')).toMatch(/ (since|from|on) 28 March 2026/);
    }
  });

  test('tells causes with their weights, and leaves out what is next to nothing', () => {
    expect(sayCauses(DRIFT)).toBe('likely feeder resistance (92 %), setpoint offset (8 %)');
    expect(sayCauses(SILENCE)).toBeNull();
  });
});

describe('sayFindings', () => {
  const said = [
    { finding: { ...SILENCE, end: null }, zone: 'UTC' },
    { finding: SILENCE, zone: 'UTC' },
    { finding: DRIFT, zone: 'UTC' },
  ];

  test('puts open before ended, urgent before soon, in columns', () => {
    expect(sayFindings(said, 120)).toEqual([
      'Open (2)',
      '  urgent  millpond  u2 has carried 44.0 % instead of 49.1 % since 28 March 2026',
      '                    likely feeder resistance (92 %), setpoint offset (8 %)',
      '  soon    millpond  u2 has sent nothing since 28 March 2026, 23:30 +00:00',
      '',
      'Ended (1)',
      '  soon    millpond  u2 sent nothing from 28 March 2026, 23:30 +00:00 to 29 March 2026, 03:00 +00:00',
    ]);
  });

  test('wraps to the width under the sentence', () => {
    expect(sayFindings(said.slice(2), 50).slice(1, 3)).toEqual([
      '  urgent  millpond  u2 has carried 44.0 % instead',
      '                    of 49.1 % since 28 March 2026',
    ]);
  });

  test('groups what could not be told by its reason', () => {
    const because = 'the baseline needs 7 days';
    expect(
      sayCannotTell(
        [
          { site: 'a', kind: 'soc_divergence', subject: 'p1, p2', because },
          { site: 'b', kind: 'soc_divergence', subject: 'site', because },
        ],
        100,
      ),
    ).toEqual(['Could not be told yet', '  soc divergence: the baseline needs 7 days: a (p1, p2), b']);
    expect(sayCannotTell([], 100)).toEqual([]);
    const soFar = (site: string, days: number) =>
      ({ site, kind: 'share_drift', subject: 'u1, u2', because: `the baseline needs 7 days, ${days} are in` }) as const;
    expect(sayCannotTell([soFar('a', 3), soFar('b', 0)], 100)[1]).toBe(
      '  share drift: the baseline needs 7 days: a (u1, u2; 3 are in), b (u1, u2; 0 are in)',
    );
  });

  test('counts the sites that were looked at, not those that were asked for', () => {
    expect(sayLookedAt(3, 3, [DRIFT, SILENCE])).toBe(
      "Looked at 3 sites: 1 open finding, 1 ended. Times are in each site's zone.",
    );
    expect(sayLookedAt(2, 3, [])).toMatch(/^Looked at 2 of 3 sites: 0 open findings/);
  });
});
