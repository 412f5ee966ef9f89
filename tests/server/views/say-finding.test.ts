import { describe, expect, test } from 'vitest';
import { FINDING_KINDS } from '../../../ingest/vocabulary/finding.ts';
import type { SayableFinding } from '../../../server/contract/finding.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { sayCauses, sayFinding } from '../../../server/views/say-finding.ts';

const at = (text: string): number => Date.parse(text);
const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now: at('2026-04-14T06:40:00Z') };

const DRIFT: SayableFinding = {
  site: 'millpond',
  kind: 'share_drift',
  subject: 'u2',
  start: at('2026-03-28T13:00:00Z'),
  detectedAt: at('2026-03-30T15:20:00Z'),
  end: null,
  severity: 'soon',
  measure: 'share of output power',
  value: 0.44,
  baseline: 0.491,
  limit: 0.03,
  causes: [
    { cause: 'feeder_resistance', weight: 0.92 },
    { cause: 'setpoint_offset', weight: 0.05 },
    { cause: 'measurement_scale', weight: 0.001 },
  ],
  evidence: { resistance_added_mohm: 42.3, mode: 'grid' },
};
const plain = (text: string): string => text.replaceAll('\u00a0', ' ');
const say = (change: Partial<SayableFinding>): string =>
  plain(sayFinding({ ...DRIFT, causes: [], evidence: {}, ...change }, saying));

/** One row a sentence: who reads it must be able to act on it. */
const SAID: readonly (readonly [Partial<SayableFinding>, string])[] = [
  [
    { causes: DRIFT.causes, evidence: DRIFT.evidence },
    'u2 has carried 44.0 % instead of 49.1 % since 28 March; its path probably has 42 mΩ more.',
  ],
  [{ end: at('2026-04-02T10:00:00Z') }, 'u2 carried 44.0 % instead of 49.1 % from 28 March to 2 April.'],
  [{ subject: null, candidates: ['u1', 'u2'] }, 'u1 or u2 has carried 44.0 % instead of 49.1 % since 28 March.'],
  [
    {
      kind: 'output_lost',
      subject: 'site',
      start: at('2026-04-14T01:00:00Z'),
      end: at('2026-04-14T01:04:10Z'),
      evidence: { soc_pct: 12 },
    },
    'Output was lost for 4 min 10 s last night; the charge was 12 %.',
  ],
  [
    {
      kind: 'frequency_excursion',
      subject: 'site',
      start: at('2026-04-12T18:34:00Z'),
      end: at('2026-04-12T18:34:50Z'),
      value: 48.71,
      baseline: 50,
      limit: 49,
      evidence: { outside_s: 50 },
      causes: [{ cause: 'overload', weight: 0.94 }],
    },
    'On its own the frequency fell to 48.71 Hz on Sunday, outside its band for 50 s (limit 49.00 Hz); the load was probably too great for the set.',
  ],
  [
    {
      kind: 'single_unit_grid_loss',
      subject: 'u3',
      start: at('2026-04-10T04:02:00Z'),
      value: null,
      baseline: null,
      limit: null,
      causes: [{ cause: 'input_breaker', weight: 0.8 }],
    },
    'u3 alone has had no grid since Friday 05:02; its input breaker is probably open.',
  ],
  [{ kind: 'site_silent', subject: 'site', start: at('2026-04-12T19:58:00Z') }, 'Nothing heard since Sunday 20:58.'],
  [{ kind: 'unit_silent', start: at('2026-04-09T08:00:00Z') }, 'u2 has sent nothing since Thursday 09:00.'],
  [
    {
      kind: 'settings_mismatch',
      start: at('2026-04-08T08:00:00Z'),
      evidence: { settings: ['battery_type'], battery_type: ['u1 lithium', 'u2 lead_acid'] },
    },
    'u2 has been set otherwise than it should be since Wednesday 09:00: battery type (u1 lithium, u2 lead acid).',
  ],
  [
    {
      kind: 'soc_divergence',
      subject: 'p1',
      value: -18.29,
      baseline: 0.14,
      limit: 5,
      causes: [{ cause: 'gauge_error', weight: 0.7 }],
    },
    "The charge of p1 has stood 18.3 points below the bank's instead of 0.1 points above since 28 March; its gauge has probably drifted, and a full charge should close the gap.",
  ],
  [
    { kind: 'battery_unseen', start: at('2026-04-14T05:00:00Z'), causes: [{ cause: 'parallel_link', weight: 0.7 }] },
    'u2 has not seen the battery since 06:00; the parallel link to it is probably loose.',
  ],
];

describe('sayFinding', () => {
  test.each(SAID)('%#', (change, text) => {
    expect(say(change)).toBe(text);
  });

  test('every kind has its sentence, open and ended, with and without figures, and none of the words that say nothing', () => {
    for (const kind of FINDING_KINDS) {
      for (const end of [null, DRIFT.start + 90_000_000]) {
        for (const value of [0.1, null]) {
          const text = say({ kind, end, value, baseline: value, limit: value });
          expect(text).toMatch(/^([A-Z]|u2 ).*\.$/);
          expect(text).not.toMatch(/undefined|null|NaN|anomal|detected|issue|score|health|\bOK\b|!|sorry/i);
        }
      }
    }
  });

  test('a cause that weighs less than half is not said: nobody is sent anywhere for it', () => {
    const weak = say({ causes: [{ cause: 'feeder_resistance', weight: 0.49 }] });
    expect(weak).not.toContain('probably');
  });

  test('causes come with their weights, and those under one in a hundred are left out', () => {
    expect(sayCauses(DRIFT, saying)).toEqual(['resistance in the feeder 0.92', 'setpoint moved 0.05']);
  });

  test('the figures of a sentence are those of the finding, in the zone of the reader', () => {
    const utc = plain(
      sayFinding({ ...DRIFT, kind: 'unit_silent', start: at('2026-04-14T05:00:00Z') }, { ...saying, zone: 'UTC' }),
    );
    expect(utc).toContain('since 05:00');
  });
});
