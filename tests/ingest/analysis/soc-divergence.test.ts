import { describe, expect, test } from 'vitest';
import { socDivergence } from '../../../ingest/analysis/soc-divergence.ts';
import type { SiteHistory } from '../../../ingest/site/record.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { DAY_MS, epochMs, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, blocksOf, findingsOf, foldLog, type Line, nowOf, recordOf, siteOf } from './_check.ts';
import { dayCycle, type PackLog, packLog } from './_pack-log.ts';

const TWO = ['p1', 'p2'];
const THREE = ['p1', 'p2', 'p3'];
const siteFor = (packs: readonly string[]): SiteHistory => siteOf({ packs, intervalS: 300 });
const log = (over: Partial<PackLog>): Line[] => packLog({ ids: TWO, to: '+30 00:00', ...over });
const found = (site: SiteHistory, own: readonly Line[]): readonly Finding[] => findingsOf(socDivergence, site, own);
const inShort = ({ kind, subject, causes }: Finding): string => `${kind} ${subject} ${causes[0]?.cause ?? ''}`.trim();
const hourOf = (t: number): number => (t / HOUR_MS) % 24;
const isOn = (t: number, from: string, to: string): boolean => t >= at(from) && t < at(to);
/** A gauge that runs off from an instant on, points a day. */
const runsOff =
  (pack: number, from: string, aDay: number) =>
  (t: number, k: number): number =>
    k === pack ? (aDay * Math.max(0, t - at(from))) / DAY_MS : 0;

describe('socDivergence finds nothing', () => {
  test.each([
    ['in packs that keep together', {}],
    [
      'in gauges that run low and jump by 3 points at the full charge',
      { gaugePoints: (t: number, k: number) => (k === 1 ? -3 * ((hourOf(t) + 10) % 24) : 0) / 24 },
    ],
    [
      'in packs that swing by 4 points with the day, in the baseline and after',
      { gaugePoints: (t: number, k: number) => (k === 0 ? 4 : -4) * Math.sin((hourOf(t) / 12) * Math.PI) },
    ],
    ['in packs parked 8 points apart for good', { gaugePoints: (_: number, k: number) => (k === 0 ? 0 : -8) }],
    [
      'in a season that doubles the cycle after the baseline',
      {
        bankC: (t: number, pct: number) => dayCycle(t < at('+9 00:00') ? 0.5 : 1)(t, pct),
        gaugePoints: (_: number, k: number, pct: number) => (k === 1 ? 0.04 * (pct - 80) : 0),
      },
    ],
    [
      'in a week away, resting full',
      { bankC: (t: number, pct: number) => (isOn(t, '+10 16:00', '+17 16:00') ? 0 : dayCycle()(t, pct)) },
    ],
    ['in a gateway gap of ten days', { isSilent: (t: number) => isOn(t, '+10 00:00', '+20 00:00') }],
    [
      'in a pack that is silent for days',
      { isSilent: (t: number, k: number) => k === 1 && isOn(t, '+10 00:00', '+14 00:00') },
    ],
    [
      'in baseline days with gaps',
      { isSilent: (t: number, k: number) => k === 1 && t < at('+12 00:00') && hourOf(t) < 14 },
    ],
    ['in charges of whole percent', { decimals: 0 }],
    ['in packs that send no current', { hasCurrent: () => false }],
    ['in a pack that sends no current at night', { hasCurrent: (t: number, k: number) => k === 0 || hourOf(t) > 7 }],
    ['at a sample a minute', { everyS: 60, to: '+14 00:00' }],
  ] satisfies [string, Partial<PackLog>][])('%s', (_, over: Partial<PackLog>) => {
    expect(found(siteFor(TWO), log(over)).map(inShort)).toEqual([]);
  });

  test('in packs of unequal capacity', () => {
    const record = recordOf({ packs: TWO, intervalS: 300 });
    const packs = record.packs.map((pack, k) => ({ ...pack, capacity_ah: k === 0 ? 100 : 280 }));
    const site: SiteHistory = { site: 'millpond', documents: [{ ...record, packs }] };
    expect(found(site, log({ capacityAh: [100, 280] }))).toEqual([]);
  });

  test('and asks nothing of a bank with one pack', () => {
    const site = siteFor(['p1']);
    const own = log({ ids: ['p1'] });
    const answer = socDivergence.answer(foldLog(socDivergence, site, own), site, epochMs(nowOf(site, own)));
    expect(answer).toEqual({ findings: [], cannotTell: [], figures: [] });
  });

  test('and says that it can’t tell where a pack never reports its charge', () => {
    const site = siteFor(TWO);
    const own = log({ isSilent: (_, k) => k === 1 });
    const answer = socDivergence.answer(foldLog(socDivergence, site, own), site, epochMs(nowOf(site, own)));
    expect(answer.findings).toEqual([]);
    expect(answer.cannotTell[0]!.because).toBe(
      'the baseline needs 7 days on which every pack reports its charge, 0 are in',
    );
  });
});

describe('socDivergence finds', () => {
  test.each([
    [TWO, 1],
    [TWO, 0],
    [THREE, 1],
  ])('of %j the gauge that runs off by 1.5 points a day (%i), and stays sure of it for a month', (ids, pack) => {
    const own = log({ ids, gaugePoints: runsOff(pack, '+10 06:00', -1.5), to: '+40 00:00' });
    const all = found(siteFor(ids), own);
    expect(all.map(inShort)).toEqual([`soc_divergence ${ids[pack]} gauge_error`]);
    const [one] = all;
    expect(one!.causes[0]!.weight).toBeGreaterThan(0.9);
    expect(Math.abs(one!.start - at('+10 06:00'))).toBeLessThanOrEqual(2 * DAY_MS);
    expect(one!.detectedAt).toBeLessThan(at('+18 00:00'));
    expect(one!.end).toBeNull();
    const unexplained = (one!.evidence.unexplained_points as readonly number[])[pack]!;
    expect(unexplained).toBeLessThan(-40);
  });

  test('a gauge that jumped, though no current was ever amiss', () => {
    const own = log({ gaugePoints: (t, k) => (k === 1 && t >= at('+10 12:00') ? -20 : 0) });
    const [one, ...more] = found(siteFor(TWO), own);
    expect(more).toEqual([]);
    expect(inShort(one!)).toBe('soc_divergence p2 gauge_error');
    expect(Math.abs(one!.start - at('+10 12:00'))).toBeLessThanOrEqual(HOUR_MS);
    expect(one!.detectedAt - at('+10 12:00')).toBeLessThanOrEqual(24 * HOUR_MS);
  });

  test('a gauge of whole percent that runs off', () => {
    const own = log({ decimals: 0, gaugePoints: runsOff(1, '+10 06:00', -1.5) });
    expect(found(siteFor(TWO), own).map(inShort)).toEqual(['soc_divergence p2 gauge_error']);
  });

  test.each([[TWO], [THREE]])('of %j the pack that has stopped carrying, within a day, under its own kind', (ids) => {
    const own = log({ ids, carries: (t, k) => (k === 1 && t >= at('+10 17:00') ? 0 : 1), to: '+16 00:00' });
    const all = found(siteFor(ids), own);
    expect(all.map(inShort)).toEqual(['pack_not_carrying p2']);
    expect(all[0]!.detectedAt - at('+10 17:00')).toBeLessThanOrEqual(24 * HOUR_MS);
    expect(Math.abs(all[0]!.start - at('+10 17:00'))).toBeLessThanOrEqual(4 * HOUR_MS);
  });

  test('packs that part without currents, but not which of them', () => {
    const own = log({ hasCurrent: () => false, gaugePoints: runsOff(1, '+10 06:00', -1.5) });
    const [one] = found(siteFor(TWO), own);
    expect(one).toMatchObject({ kind: 'soc_divergence', subject: null, candidates: TWO });
    expect(one!.evidence.unexplained_points).toEqual(['unknown', 'unknown']);
  });

  test('the end, once they have stood level for a day and a half', () => {
    const own = log({ gaugePoints: (t, k) => (k === 1 && isOn(t, '+10 12:00', '+15 12:00') ? -20 : 0) });
    const [one, ...more] = found(siteFor(TWO), own);
    expect(more).toEqual([]);
    expect(Math.abs(one!.end! - at('+15 12:00'))).toBeLessThanOrEqual(2 * HOUR_MS);
    expect(one!.value! - one!.baseline!).toBeLessThan(-5);
  });

  test('live what it says later: a log cut at any time has the same start and the same time of detection', () => {
    const own = log({ gaugePoints: (t, k) => (k === 1 && t >= at('+10 12:00') ? -20 : 0), to: '+13 00:00' });
    const site = siteFor(TWO);
    const name = (f: Finding): string => `${f.kind} ${f.subject} ${f.start} ${f.detectedAt}`;
    const whole = found(site, own);
    const seen = whole[0]!.detectedAt;
    for (const t of [seen - 1, seen, seen + 1, seen + 7 * HOUR_MS, at('+11 23:59')]) {
      const cut = found(
        site,
        own.filter((line) => line.t <= t),
      );
      expect(cut.map(name)).toEqual(t < seen ? [] : whole.map(name));
    }
  });
});

describe('socDivergence and a record that changes', () => {
  test.each([
    ['a pack is replaced', ['p1', 'p2'], 'NEW'],
    ['a pack is added', ['p1', 'p2', 'p3'], null],
    ['only one pack is left', ['p1'], null],
  ])('what is open ends on the day, never before it began, when %s', (_, ids, serial) => {
    const later = recordOf({ packs: ids, intervalS: 300, more: { validFrom: epochMs(at('+18 00:00')) } });
    const packs = later.packs.map((pack) => (pack.id === 'p2' ? { ...pack, serial } : pack));
    const commissioned = epochMs(at('00:00'));
    const site: SiteHistory = {
      site: 'millpond',
      documents: [recordOf({ packs: TWO, intervalS: 300, more: { commissioned } }), { ...later, packs, commissioned }],
    };
    const own = log({ gaugePoints: (t, k) => (k === 1 && t >= at('+10 12:00') ? -20 : 0), to: '+22 00:00' });
    const all = found(site, own);
    expect(all.map(({ end }) => end)).toEqual([at('+18 00:00')]);
  });
});

describe('the state of socDivergence', () => {
  test.each([
    ['an open finding', {}],
    ['a baseline that never comes', { isSilent: (t: number, k: number) => k === 1 && hourOf(t) < 18 }],
  ])('stays plain JSON and stops growing with %s', (_, over) => {
    const site = siteFor(TWO);
    const sizes: number[] = [];
    const own = log({ everyS: 600, to: '+130 00:00', gaugePoints: runsOff(1, '+40 00:00', -0.5), ...over });
    blocksOf(own).reduce((state, block) => {
      const next = socDivergence.fold(state, block, site);
      const text = JSON.stringify(next);
      expect(JSON.parse(text)).toEqual(next);
      sizes.push(text.length);
      return next;
    }, socDivergence.begin(site));
    expect(Math.max(...sizes)).toBeLessThan(150_000);
    expect(sizes.at(-1)!).toBeLessThan(1.1 * sizes[118]!);
  });
});
