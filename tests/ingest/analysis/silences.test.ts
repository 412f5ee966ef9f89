import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { silences } from '../../../ingest/analysis/silences.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import {
  at,
  check,
  checkEveryCut,
  type Fleet,
  findingsOf,
  inWords,
  type Line,
  lines,
  nowOf,
  recordOf,
  siteOf,
} from './_check.ts';

const FLEET: Fleet = { units: [{ id: 'u1' }, { id: 'u2' }], packs: ['p1'], intervalS: 60 };
const SITE = siteOf(FLEET);

/** Readings a minute from 09:00 to 12:00 but for the gaps, each source at its own second. */
function source(name: Partial<Line>, second: number, ...gaps: readonly (readonly [string, string])[]): Line[] {
  return lines('09:00', '12:00', 60, (t) => (gaps.some(([a, b]) => t >= at(a) && t < at(b)) ? null : { ...name })).map(
    (line) => ({ ...line, t: line.t + second * 1000 }),
  );
}
const u1 = (...gaps: (readonly [string, string])[]): Line[] => source({ unit: 'u1', output_power_w: 1 }, 0, ...gaps);
const u2 = (...gaps: (readonly [string, string])[]): Line[] => source({ unit: 'u2', output_power_w: 1 }, 5, ...gaps);
const p1 = (...gaps: (readonly [string, string])[]): Line[] => source({ pack: 'p1', soc_pct: 50 }, 9, ...gaps);

describe('silences', () => {
  test.each([
    ['all speak, nothing', [...u1(), ...u2(), ...p1()], []],
    [
      'one unit silent: from its last reading, seen once now is ten minutes on, to its next',
      [...u1(['10:01', '11:00']), ...u2(), ...p1()],
      ['unit_silent u1 10:00:00 seen 10:10:09 to 11:00:00 soon'],
    ],
    [
      'one that does not come back has no end',
      [...u1(), ...u2(), ...p1(['10:01', '13:00'])],
      ['pack_silent p1 10:00:09 seen 10:11:05 to now plan'],
    ],
    ['nine minutes are no silence', [...u1(['10:01', '10:10']), ...u2(), ...p1()], []],
    [
      'a silence of all is one of the site alone, raised when readings resume',
      [...u1(['10:01', '11:00']), ...u2(['10:01', '11:00']), ...p1(['10:01', '11:00'])],
      ['site_silent site 10:00:09 seen 11:00:00 to 11:00:00 soon'],
    ],
    [
      'a unit that resumes a little after the others is not blamed for the silence of the site',
      [...u1(['10:01', '11:00']), ...u2(['10:01', '11:08']), ...p1(['10:01', '11:00'])],
      ['site_silent site 10:00:09 seen 11:00:00 to 11:00:00 soon'],
    ],
    [
      'one that stays silent after the site resumed is silent since its last reading',
      [...u1(['10:01', '11:00']), ...u2(['10:01', '11:30']), ...p1(['10:01', '11:00'])],
      [
        'unit_silent u2 10:00:05 seen 11:10:09 to 11:30:05 soon',
        'site_silent site 10:00:09 seen 11:00:00 to 11:00:00 soon',
      ],
    ],
    [
      'one that was never heard is silent since the first reading of the site',
      [...u1(), ...u2()],
      ['pack_silent p1 09:00:00 seen 09:10:00 to now plan'],
    ],
  ])('%s', (_, log, expected) => {
    check(silences, SITE, log, expected);
  });

  test('most of the sources silent is not yet seen: now stands still, until they resume', () => {
    const log = [...u1(), ...u2(['10:01', '11:00']), ...p1(['10:01', '11:00'])];
    check(silences, SITE, log, ['pack_silent p1 10:00:09 seen 11:00:05 to 11:00:09 plan']);
  });

  test('over midnight', () => {
    const log = [
      ...lines('23:00', '+1 01:00', 60, (t) =>
        t > at('23:55') && t < at('+1 00:30') ? null : { unit: 'u1', output_power_w: 1 },
      ),
      ...lines('23:00', '+1 01:00', 60, () => ({ unit: 'u2', output_power_w: 1 })),
    ];
    const site = siteOf({ intervalS: 60 });
    check(silences, site, log, ['unit_silent u1 23:55:00 seen +1 00:05:00 to +1 00:30:00 soon']);
    checkEveryCut(silences, site, log);
  }, 30_000);

  test('six samples where those are more than ten minutes', () => {
    const site = siteOf({ units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }], intervalS: 300 });
    const five = (unit: string, gap: readonly [string, string]): Line[] =>
      lines('09:00', '12:00', 300, (t) => (t > at(gap[0]) && t < at(gap[1]) ? null : { unit, output_power_w: 1 }));
    const log = [
      ...five('u1', ['10:00', '10:25']),
      ...five('u2', ['11:00', '11:30']),
      ...five('u3', ['09:00', '09:00']),
    ];
    check(silences, site, log, []);
    check(
      silences,
      site,
      [...log.filter(({ t, unit }) => unit !== 'u2' || t !== at('11:30'))],
      ['unit_silent u2 11:00:00 seen 11:30:00 to 11:35:00 soon'],
    );
  });

  test('a heartbeat later than all readings shows a silence of the site alone', () => {
    const log = [...u1(), ...u2(), ...p1()];
    check(silences, SITE, log, ['site_silent site 11:59:09 seen 12:09:09 to now soon'], at('12:30'));
    check(silences, SITE, log, [], at('12:08'));
  });

  test('a heartbeat shows one that is silent before the others’ readings do', () => {
    const log = [...u1(['11:45', '12:00']), ...u2(['11:50', '12:00']), ...p1(['11:50', '12:00'])];
    check(silences, SITE, log, ['unit_silent u1 11:44:00 seen 11:54:00 to now soon'], at('11:55'));
  });

  test('a unit that the record names from a later day on is silent from that day on, said once it had a day to speak', () => {
    const later = recordOf({ ...FLEET, units: [{ id: 'u1' }, { id: 'u3' }] });
    const site = {
      site: 'millpond',
      documents: [recordOf(FLEET), { ...later, validFrom: epochMs(at('+1 00:00')) }],
    } as const;
    const log = [
      ...lines('23:00', '+2 01:00', 60, () => ({ unit: 'u1', output_power_w: 1 })),
      ...lines('23:00', '23:20', 60, () => ({ unit: 'u2', output_power_w: 1 })),
      ...lines('23:00', '+2 01:00', 60, () => ({ pack: 'p1', soc_pct: 50 })),
    ];
    expect(findingsOf(silences, site, log).map(inWords)).toEqual([
      'unit_silent u2 23:19:00 seen 23:29:00 to +1 00:00:00 soon',
      'unit_silent u3 +1 00:00:00 seen +2 00:10:00 to now soon',
    ]);
  });

  test('cut at any time the log says what was said live', () => {
    const log = [...u1(['09:20', '09:40']), ...u2(['09:30', '10:40']), ...p1(['10:00', '10:30'])].filter(
      ({ t }) => t < at('10:50') || t > at('11:20'),
    );
    expect(findingsOf(silences, SITE, log).length).toBeGreaterThan(2);
    checkEveryCut(silences, SITE, log);
  }, 30_000);

  test('agrees with the contract’s words at every reading of random logs without a silence of all', () => {
    const gap = fc.tuple(fc.integer({ min: 5, max: 100 }), fc.integer({ min: 1, max: 60 }));
    const walk = fc.array(gap, { maxLength: 2 });
    fc.assert(
      fc.property(walk, walk, walk, (a, b, c) => {
        const beat = (name: Partial<Line>, second: number, gaps: readonly (readonly [number, number])[]): Line[] =>
          lines('09:00', '11:00', 60, (t) => {
            const minute = (t - at('09:00')) / 60_000;
            return gaps.some(([from, long]) => minute >= from && minute < from + long) ? null : { ...name };
          }).map((line) => ({ ...line, t: line.t + second * 1000 }));
        // A fourth that never rests keeps the whole site from being silent.
        const fleet: Fleet = { units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }, { id: 'u4' }], intervalS: 60 };
        const log = [
          ...beat({ unit: 'u1', output_power_w: 1 }, 0, a),
          ...beat({ unit: 'u2', output_power_w: 1 }, 5, b),
          ...beat({ unit: 'u3', output_power_w: 1 }, 9, c),
          ...beat({ unit: 'u4', output_power_w: 1 }, 11, []),
        ];
        expect(
          findingsOf(silences, siteOf(fleet), log)
            .map(({ subject, start, detectedAt }) => [subject, start, detectedAt])
            .sort(),
        ).toEqual(byTheContract(fleet, log).sort());
      }),
      { numRuns: 12 },
    );
  }, 30_000);
});

/** At each reading: now, and who has said nothing for ten minutes of it. */
function byTheContract(fleet: Fleet, log: readonly Line[]): unknown[][] {
  const site = siteOf(fleet);
  const seen = new Map<string, unknown[]>();
  for (const t of [...new Set(log.map((line) => line.t))].sort((a, b) => a - b)) {
    const cut = log.filter((line) => line.t <= t);
    const now = nowOf(site, cut);
    for (const { id } of site.documents[0].units) {
      const last = Math.max(...cut.filter((line) => line.unit === id).map((line) => line.t));
      if (Number.isFinite(last) && now - last >= 600_000 && !seen.has(`${id} ${last}`))
        seen.set(`${id} ${last}`, [id, last, t]);
    }
  }
  return [...seen.values()];
}

describe('a whole site that falls silent', () => {
  const AWAY = { mode: 'backup', grid_voltage_v: 0 };
  const ON = { mode: 'grid', grid_voltage_v: 230 };
  /** Two units and a pack without a reading from 10:00 to 11:00, off the grid in the span. */
  const silent = (from: string, to: string): Line[] =>
    [...u1(['10:01', '11:00']), ...u2(['10:01', '11:00']), ...p1(['10:01', '11:00'])].map((line) =>
      line.unit === undefined ? line : { ...line, ...(line.t >= at(from) && line.t < at(to) ? AWAY : ON) },
    );
  const evidence = (log: readonly Line[], asOf?: number) =>
    findingsOf(silences, SITE, log, asOf).find(({ kind }) => kind === 'site_silent')?.evidence;

  test('with its last word from off the grid has probably a router without backup', () => {
    expect(evidence(silent('09:58', '11:30'))).toMatchObject({ in_grid_loss: true, probably: 'router without backup' });
  });

  test('so has one whose first word is from off the grid, before the set is back on it', () => {
    expect(evidence(silent('10:30', '11:03'))).toMatchObject({ in_grid_loss: true });
  });

  test('on the grid before and after has lost something else', () => {
    expect(evidence(silent('09:20', '09:40'))).toMatchObject({ in_grid_loss: false, probably: null });
  });

  test('says so while it lasts, by the heartbeat', () => {
    const log = silent('09:58', '11:30').filter(({ t }) => t < at('10:30'));
    expect(evidence(log, at('10:45'))).toMatchObject({ in_grid_loss: true });
  });
});
