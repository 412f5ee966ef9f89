import { describe, expect, test } from 'vitest';
import { shareDrift } from '../../../ingest/analysis/share-drift.ts';
import type { SiteHistory } from '../../../ingest/site/record.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { DAY_MS, epochMs, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, blocksOf, findingsOf, foldLog, type Line, nowOf, recordOf, siteOf } from './_check.ts';
import { changesAt, houseLoad, type ShareLog, shareLog, shares } from './_share-log.ts';

const TWO = ['u1', 'u2'];
const THREE = ['u1', 'u2', 'u3'];
const cable = { length_m: 6, area_mm2: 16, material: 'copper' } as const;

function siteFor(ids: readonly string[], everyS: number, more: Parameters<typeof recordOf>[0] = {}): SiteHistory {
  return siteOf({ units: ids.map((id) => ({ id })), intervalS: everyS, ...more });
}
const wired = { more: { sharing: { grid: 'wired', backup: 'droop' } } } as const;

const log = (over: Partial<ShareLog>): Line[] =>
  shareLog({
    ids: TWO,
    to: '+14 00:00',
    everyS: 60,
    seed: 11,
    loadW: houseLoad(3),
    powersW: shares(0.46, 0.54),
    ...over,
  });

const drifts = (site: SiteHistory, own: readonly Line[]): readonly Finding[] => findingsOf(shareDrift, site, own);
const firstCause = ({ causes }: Finding): string | undefined => causes[0]?.cause;
const oneOf = (findings: readonly Finding[]): Finding => {
  expect(findings.map(({ subject }) => subject)).toHaveLength(1);
  return findings[0]!;
};

/** That the log cut at a few times about the detection says what the whole says was seen by then. */
function checkCuts(site: SiteHistory, own: readonly Line[], times: readonly number[]): void {
  const name = (f: Finding): string => `${f.kind} ${f.subject} ${f.start} ${f.detectedAt}`;
  const whole = drifts(site, own);
  for (const t of times) {
    const cut = drifts(
      site,
      own.filter((line) => line.t <= t),
    );
    expect(cut.map(name)).toEqual(whole.filter((f) => f.detectedAt <= t).map(name));
  }
}

describe('shareDrift finds nothing', () => {
  test('in a steady 46 to 54 over 60 days', () => {
    expect(drifts(siteFor(TWO, 120), log({ to: '+60 00:00', everyS: 120 }))).toEqual([]);
  });

  test('in 46 to 54 on the grid and 50 to 50 in backup: each has its own baseline', () => {
    const isBackup = (t: number): boolean => t % DAY_MS >= 17 * HOUR_MS && t % DAY_MS < 20 * HOUR_MS;
    const powersW = (t: number, totalW: number): number[] =>
      isBackup(t) ? [0.5 * totalW, 0.5 * totalW] : [0.46 * totalW, 0.54 * totalW];
    const own = log({ to: '+21 00:00', isBackup, powersW });
    expect(drifts(siteFor(TWO, 60), own)).toEqual([]);
    // Both were judged: nothing is left to learn.
    const site = siteFor(TWO, 60);
    expect(shareDrift.answer(foldLog(shareDrift, site, own), site, epochMs(nowOf(site, own))).cannotTell).toEqual([]);
  });

  test('in two 6 kW units at 30 % and 33 % under a 3.9 kW load bank', () => {
    const site = siteOf({ units: TWO.map((id) => ({ id, rated_power_w: 6000 })), intervalS: 60 });
    const powersW = (_: number, totalW: number): number[] => [(totalW * 30) / 63, (totalW * 33) / 63];
    expect(drifts(site, log({ loadW: () => 3900, powersW, to: '+12 00:00' }))).toEqual([]);
  });

  test('in a season that doubles the load after the baseline', () => {
    const loadW = (t: number): number => houseLoad(5, 3000, 6000)(t) * (t < at('+9 00:00') ? 1 : 2);
    const powersW = (_: number, totalW: number): number[] => [0.44 * totalW + 60, 0.56 * totalW - 60];
    expect(drifts(siteFor(TWO, 60), log({ loadW, powersW, to: '+30 00:00' }))).toEqual([]);
  });

  test('in a week away and a gateway gap of ten days', () => {
    const loadW = (t: number): number => (t >= at('+9 00:00') && t < at('+16 00:00') ? 180 : houseLoad(5)(t));
    const isSilent = (t: number): boolean => t >= at('+17 00:00') && t < at('+27 00:00');
    expect(drifts(siteFor(TWO, 60), log({ loadW, isSilent, to: '+34 00:00' }))).toEqual([]);
  });

  test('in what a unit does below a fifth of the rating, where shares mean little', () => {
    const powersW = (_: number, totalW: number): number[] =>
      totalW < 3000 ? [0.9 * totalW, 0.1 * totalW] : [0.5 * totalW, 0.5 * totalW];
    expect(drifts(siteFor(TWO, 60), log({ loadW: houseLoad(4, 1000, 9000), powersW }))).toEqual([]);
  });

  test('between units on different phases, however the load moves between them', () => {
    const site = siteOf({ units: TWO.map((id, k) => ({ id, phase: k === 0 ? 'L1' : 'L2' })), intervalS: 60 });
    expect(drifts(site, log({ powersW: changesAt('+9 00:00', shares(0.5, 0.5), shares(0.8, 0.2)) }))).toEqual([]);
  });

  test('in the baseline of a unit whose power is missing half of the time', () => {
    const more = (t: number, unit: number): Record<string, unknown> =>
      unit === 1 && t % (2 * HOUR_MS) < HOUR_MS ? { output_power_w: null } : {};
    expect(drifts(siteFor(TWO, 60), log({ more, to: '+20 00:00' }))).toEqual([]);
  });

  test('and says that it can’t tell where a unit never reports its power', () => {
    const more = (_: number, unit: number): Record<string, unknown> => (unit === 1 ? { output_power_w: null } : {});
    const site = siteFor(TWO, 60);
    const own = log({ more });
    const answer = shareDrift.answer(foldLog(shareDrift, site, own), site, epochMs(nowOf(site, own)));
    expect(answer.findings).toEqual([]);
    expect(answer.cannotTell.map(({ subject, because }) => `${subject}: ${because}`)).toEqual([
      'u1, u2: the baseline on the grid needs 7 loaded days, 0 are in',
      'u1, u2: the baseline in backup needs 120 loaded minutes, 0 are in',
    ]);
  });
});

describe('shareDrift finds', () => {
  test('a step of 5 points within hours, its start within an hour, as a resistance of a wired feeder', () => {
    const site = siteFor(TWO, 60, wired);
    const own = log({ powersW: changesAt('+10 09:20', shares(0.46, 0.54), shares(0.51, 0.49)) });
    const found = oneOf(drifts(site, own));
    expect(found).toMatchObject({ kind: 'share_drift', subject: 'u2', end: null, severity: 'soon', limit: 0.03 });
    expect(Math.abs(found.start - at('+10 09:20'))).toBeLessThanOrEqual(HOUR_MS);
    expect(found.detectedAt - at('+10 09:20')).toBeLessThanOrEqual(4 * HOUR_MS);
    expect(firstCause(found)).toBe('feeder_resistance');
    expect(found.causes[0]!.weight).toBeGreaterThan(0.8);
    expect(found.value).toBeCloseTo(0.49, 2);
    expect(found.baseline).toBeCloseTo(0.54, 2);
    const seen = found.detectedAt;
    checkCuts(site, own, [seen - 1, seen, seen + 1, seen + HOUR_MS, at('+11 00:00'), at('+12 03:01')]);
  });

  test('the resistance that was added, and urgent heat, where the cables are on record', () => {
    const limits = { share_points: 3, heat_w: 3, changeover_ms: 20 };
    const record = recordOf({ intervalS: 60, more: { ...wired.more, limits } });
    const units = record.units.map((unit) => ({ ...unit, output_cable: cable, input_cable: cable }));
    const site = { site: 'millpond', documents: [{ ...record, units }] } as const;
    // Two equal paths of 27.6 mΩ (4 × 6 m at 16 mm², 30 °C); 20 mΩ more on the second.
    const pathOhm = (4 * 6 * 0.0172 * 1.04) / 16;
    const share = (1 / (pathOhm + 0.02)) * (1 / (1 / pathOhm + 1 / (pathOhm + 0.02)));
    const own = log({ powersW: changesAt('+10 09:20', shares(0.5, 0.5), shares(1 - share, share)) });
    const found = oneOf(drifts(site, own));
    expect(found).toMatchObject({ subject: 'u2', severity: 'urgent' });
    expect(found.evidence.resistance_added_mohm).toBeGreaterThan(17);
    expect(found.evidence.resistance_added_mohm).toBeLessThan(23);
    // A third of 9 kW at 230 V, squared, through 20 mΩ.
    expect(found.evidence.heat_at_peak_w).toBeGreaterThan(3);
    expect(found.evidence.heat_at_peak_w).toBeLessThan(5);
  });

  test('a slow ramp over 10 days, its start within a day', () => {
    const drift = (t: number): number => 0.08 * Math.min(1, Math.max(0, (t - at('+12 00:00')) / (10 * DAY_MS)));
    const powersW = (t: number, totalW: number): number[] => [(0.46 + drift(t)) * totalW, (0.54 - drift(t)) * totalW];
    const found = oneOf(drifts(siteFor(TWO, 60, wired), log({ powersW, to: '+24 00:00' })));
    expect(Math.abs(found.start - at('+12 00:00'))).toBeLessThanOrEqual(DAY_MS);
    expect(found.detectedAt).toBeLessThan(at('+19 00:00'));
    expect(firstCause(found)).toBe('feeder_resistance');
  });

  test.each([
    [
      'a difference of setpoints, of two units it can’t be told which',
      shares(0.5, 0.5),
      (_: number, w: number) => [0.5 * w + 450, 0.5 * w - 450],
      'setpoint_offset',
      null,
    ],
    ['a slope, and the unit', shares(0.5, 0.5), shares(0.57, 0.43), 'feeder_resistance', 'u2'],
  ] as const)('in droop operation %s', (_, before, after, cause, subject) => {
    const site = siteFor(TWO, 60, wired);
    const found = oneOf(drifts(site, log({ isBackup: () => true, powersW: changesAt('+5 06:00', before, after) })));
    expect(firstCause(found)).toBe(cause);
    expect(found.subject).toBe(subject);
    expect(found.candidates).toEqual(subject === null ? TWO : undefined);
  });

  test('no difference of setpoints in wired operation, where setpoints play no part', () => {
    const after = (_: number, w: number): number[] => [0.5 * w + 450, 0.5 * w - 450];
    const found = oneOf(
      drifts(siteFor(TWO, 60, wired), log({ powersW: changesAt('+9 06:00', shares(0.5, 0.5), after) })),
    );
    expect(found.causes.map(({ cause }) => cause)).not.toContain('setpoint_offset');
  });

  test('a unit that is limited, though its share is as proven at low load', () => {
    const ceiling = (_: number, w: number): number[] => [w - Math.min(0.5 * w, 3300), Math.min(0.5 * w, 3300)];
    const own = log({ powersW: changesAt('+9 06:00', shares(0.5, 0.5), ceiling), to: '+13 00:00' });
    const found = oneOf(drifts(siteFor(TWO, 60, wired), own));
    expect(found).toMatchObject({ subject: 'u2', end: null });
    expect(firstCause(found)).toBe('unit_limited');
    expect(found.evidence.ceiling_w).toBeGreaterThan(3150);
    expect(found.evidence.ceiling_w).toBeLessThan(3450);
  });

  test('and keeps showing it through a month of low load, where nothing speaks for its end', () => {
    const ceiling = (_: number, w: number): number[] => [w - Math.min(0.5 * w, 3300), Math.min(0.5 * w, 3300)];
    const loadW = (t: number): number => (t < at('+13 00:00') ? houseLoad(3)(t) : houseLoad(3, 3300, 5200)(t));
    const own = log({ loadW, powersW: changesAt('+9 06:00', shares(0.5, 0.5), ceiling), to: '+40 00:00' });
    const found = oneOf(drifts(siteFor(TWO, 60, wired), own));
    expect(found.end).toBeNull();
    expect(firstCause(found)).toBe('unit_limited');
  });

  test.each([
    ['says so', {}],
    ['stands by', { mode: 'standby' }],
    ['is faulty', { mode: 'fault' }],
    ['takes a little in', { output_power_w: -25 }],
  ])('a unit that carries nothing within 3 hours, when it %s', (_, values) => {
    const more = (t: number, unit: number): Record<string, unknown> =>
      unit === 1 && t >= at('+9 10:00') ? values : {};
    const own = log({ more, powersW: changesAt('+9 10:00', shares(0.46, 0.54), shares(1, 0)), to: '+10 00:00' });
    const found = oneOf(drifts(siteFor(TWO, 60, wired), own));
    expect(found.subject).toBe('u2');
    expect(firstCause(found)).toBe('unit_not_carrying');
    expect(found.detectedAt - at('+9 10:00')).toBeLessThanOrEqual(3 * HOUR_MS);
  });

  test.each([
    [1.1, 0],
    [1.12, 1],
    [0.88, 0],
  ])('a meter whose gain became %s, on its own unit, because what it takes in is where it was', (gain, unit) => {
    const meterGain = (t: number, k: number): number => (k === unit && t >= at('+9 10:00') ? gain : 1);
    const found = oneOf(drifts(siteFor(TWO, 60, wired), log({ meterGain, powersW: shares(0.5, 0.5) })));
    expect(firstCause(found)).toBe('measurement_scale');
    expect(found.subject).toBe(TWO[unit]);
  });

  test.each([0, 1, 2])('of three units the one that changed (%i), and no other', (unit) => {
    const before = [0.3, 0.34, 0.36];
    const after = before.map((part, k) => (k === unit ? part - 0.06 : part * (1 + 0.06 / (1 - before[unit]!))));
    const own = log({ ids: THREE, powersW: changesAt('+9 10:00', shares(...before), shares(...after)) });
    const found = oneOf(drifts(siteFor(THREE, 60, wired), own));
    expect(found.subject).toBe(THREE[unit]);
    expect(firstCause(found)).toBe('feeder_resistance');
  });

  test('the changed unit of its own phase, and leaves the other phase alone', () => {
    const ids = ['a1', 'a2', 'b1', 'b2'];
    const site = siteOf({ units: ids.map((id, k) => ({ id, phase: k < 2 ? 'L1' : 'L2' })), intervalS: 60 });
    const own = log({
      ids,
      loadW: houseLoad(3, 6000, 18_000),
      powersW: changesAt('+9 10:00', shares(0.25, 0.25, 0.25, 0.25), shares(0.22, 0.28, 0.25, 0.25)),
    });
    expect(drifts(site, own).map(({ subject, evidence }) => `${subject} ${evidence.phase}`)).toEqual(['a1 L1']);
  });

  test('units of unequal rating by their own proven shares', () => {
    const units = [
      { id: 'u1', rated_power_w: 5000 },
      { id: 'u2', rated_power_w: 10_000 },
    ];
    const steady = log({ powersW: shares(0.33, 0.67) });
    const moved = log({ powersW: changesAt('+9 10:00', shares(0.33, 0.67), shares(0.39, 0.61)) });
    expect(drifts(siteOf({ units, intervalS: 60 }), steady)).toEqual([]);
    expect(oneOf(drifts(siteOf({ units, intervalS: 60 }), moved)).subject).toBe('u2');
  });

  test('the mode by the grid’s voltage where units send none', () => {
    const isBackup = (t: number): boolean => t % DAY_MS >= 17 * HOUR_MS && t % DAY_MS < 20 * HOUR_MS;
    const powersW = (t: number, w: number): number[] => {
      if (isBackup(t)) return [0.5 * w, 0.5 * w];
      return t < at('+9 06:00') ? [0.42 * w, 0.58 * w] : [0.48 * w, 0.52 * w];
    };
    const own = log({ isBackup, powersW, more: () => ({ mode: null }) });
    expect(drifts(siteFor(TWO, 60), own).map(({ evidence }) => evidence.mode)).toEqual(['grid']);
  });

  test.each([10, 30, 60, 300])('the same step at a sample every %i s', (everyS) => {
    const isSparse = everyS === 10;
    const own = log({
      everyS,
      powersW: changesAt('+9 09:00', shares(0.46, 0.54), shares(0.52, 0.48)),
      // Ten-second logs are long: half a day of them each day is enough.
      isSilent: (t) => isSparse && t % DAY_MS < 14 * HOUR_MS && t < at('+9 00:00'),
      to: '+10 12:00',
    });
    const found = oneOf(drifts(siteFor(TWO, everyS, wired), own));
    expect(found.subject).toBe('u2');
    expect(Math.abs(found.start - at('+9 09:00'))).toBeLessThanOrEqual(everyS === 300 ? 2 * HOUR_MS : HOUR_MS);
  });

  test('nothing while one unit is silent, and the drift again once it speaks', () => {
    const isSilent = (t: number, unit: number): boolean => unit === 0 && t >= at('+9 00:00') && t < at('+12 00:00');
    const own = log({ isSilent, powersW: changesAt('+9 10:00', shares(0.46, 0.54), shares(0.52, 0.48)) });
    expect(oneOf(drifts(siteFor(TWO, 60), own)).detectedAt).toBeGreaterThanOrEqual(at('+12 00:00'));
  });

  test('the end, once it is level again, with the figures of the time while it lasted', () => {
    const powersW = (t: number, w: number): number[] =>
      t >= at('+9 10:00') && t < at('+10 16:00') ? [0.52 * w, 0.48 * w] : [0.46 * w, 0.54 * w];
    const own = log({ powersW, to: '+13 00:00' });
    const found = oneOf(drifts(siteFor(TWO, 60, wired), own));
    expect(Math.abs(found.end! - at('+10 16:00'))).toBeLessThanOrEqual(2 * HOUR_MS);
    expect(found.value).toBeCloseTo(0.48, 2);
    expect(firstCause(found)).toBe('feeder_resistance');
  });
});

describe('shareDrift and a record that changes', () => {
  const moved = (): Line[] =>
    log({ powersW: changesAt('+9 10:00', shares(0.46, 0.54), shares(0.52, 0.48)), to: '+20 00:00' });

  test.each([
    ['a unit is replaced', { serial: 'NEW-2' }, ['u1', 'u2']],
    ['a unit is added', {}, ['u1', 'u2', 'u3']],
    ['a unit is taken out', {}, ['u1']],
  ])('what is open ends on the day, never before it began, when %s', (_, change, ids) => {
    const later = {
      ...recordOf({ units: ids.map((id) => ({ id, ...(id === 'u2' ? change : {}) })), intervalS: 60 }),
      validFrom: epochMs(at('+12 00:00')),
      commissioned: epochMs(at('00:00')),
    };
    const first = recordOf({ intervalS: 60, more: { commissioned: epochMs(at('00:00')) } });
    const site: SiteHistory = { site: 'millpond', documents: [first, later] };
    const found = oneOf(drifts(site, moved()));
    expect(found.end).toBe(at('+12 00:00'));
    expect(found.value).toBeCloseTo(0.48, 2);
  });

  test('the new baseline is learnt from that day on: the new shares are the proven ones', () => {
    const later = {
      ...recordOf({ units: [{ id: 'u1' }, { id: 'u2', serial: 'NEW-2' }], intervalS: 60 }),
      validFrom: epochMs(at('+9 00:00')),
    };
    const site: SiteHistory = { site: 'millpond', documents: [recordOf({ intervalS: 60 }), later] };
    const own = log({ powersW: changesAt('+9 00:00', shares(0.46, 0.54), shares(0.54, 0.46)), to: '+20 00:00' });
    expect(drifts(site, own)).toEqual([]);
  });
});

describe('the state of shareDrift', () => {
  test('stays plain JSON and stops growing', () => {
    const site = siteFor(TWO, 300);
    const own = log({
      everyS: 300,
      to: '+120 00:00',
      powersW: changesAt('+40 00:00', shares(0.46, 0.54), shares(0.55, 0.45)),
    });
    const sizes: number[] = [];
    blocksOf(own).reduce((state, block) => {
      const next = shareDrift.fold(state, block, site);
      const text = JSON.stringify(next);
      expect(JSON.parse(text)).toEqual(next);
      sizes.push(text.length);
      return next;
    }, shareDrift.begin(site));
    expect(Math.max(...sizes)).toBeLessThan(120_000);
    expect(sizes.at(-1)!).toBeLessThan(1.1 * sizes[90]!);
  });

  test('does not wait for ever for loaded days where the load is short each day', () => {
    const site = siteFor(TWO, 60);
    const loadW = (t: number): number => (t % DAY_MS < 0.75 * HOUR_MS ? 6000 : 300);
    const learning = (to: string): number =>
      foldLog(shareDrift, site, log({ loadW, to })).groups[0]!.watches.grid.learning.length;
    expect(learning('+30 00:00')).toBeLessThanOrEqual(90);
    expect(learning('+30 00:00')).toBeGreaterThan(30);
  });
});
