import { describe, expect, test } from 'vitest';
import { packCount } from '../../../ingest/analysis/pack-count.ts';
import type { SiteHistory } from '../../../ingest/site/record.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { DAY_MS, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, blocksOf, checkEveryCut, findingsOf, foldLog, type Line, siteOf } from './_check.ts';
import { dayCycle, type PackLog, packLog } from './_pack-log.ts';

const TWO = ['p1', 'p2'];
const THREE = ['p1', 'p2', 'p3'];
const siteFor = (packs: readonly string[]): SiteHistory => siteOf({ packs, intervalS: 300 });
const log = (over: Partial<PackLog>): Line[] => packLog({ ids: THREE, to: '+16 00:00', ...over });
const found = (own: readonly Line[], packs = THREE): readonly Finding[] => findingsOf(packCount, siteFor(packs), own);
const inShort = ({ kind, subject, causes }: Finding): string => `${kind} ${subject} ${causes[0]?.cause ?? ''}`.trim();
const hourOf = (t: number): number => (t / HOUR_MS) % 24;
const isFrom = (t: number, from: string): boolean => t >= at(from);
const runsOff =
  (pack: number, from: string, aDay: number) =>
  (t: number, k: number): number =>
    k === pack ? (aDay * Math.max(0, t - at(from))) / DAY_MS : 0;

describe('packCount finds nothing', () => {
  test.each([
    ['in packs that keep together', {}],
    ['in charges of whole percent', { decimals: 0 }],
    ['in packs parked 8 points apart for good', { gaugePoints: (_: number, k: number) => (k === 0 ? 0 : -8) }],
    [
      'in a gauge whose gain is off by a percent',
      { gaugePoints: (_: number, k: number, pct: number) => (k === 1 ? 0.01 * (pct - 80) : 0) },
    ],
    [
      'in a gain that changes by a percent with an update',
      {
        gaugePoints: (t: number, k: number, pct: number) =>
          k === 1 && isFrom(t, '+10 12:00') ? 0.01 * (pct - 100) : 0,
      },
    ],
    [
      'in a gauge that runs low every day and is set right at the full charge',
      { gaugePoints: (t: number, k: number) => (k === 1 ? -3 * ((hourOf(t) + 10) % 24) : 0) / 24 },
    ],
    [
      'in gauges that wander by 1.5 points over weeks',
      { gaugePoints: (t: number, k: number) => 1.5 * Math.sin((2 * Math.PI * t) / (23 * DAY_MS) + 2 * k) },
    ],
    ['in what every gauge says alike', { gaugePoints: (t: number) => (isFrom(t, '+10 20:00') ? -6 : 0) }],
    [
      'in one reading gone wrong',
      { gaugePoints: (t: number, k: number) => (k === 1 && t === at('+10 20:00') ? -30 : 0) },
    ],
    [
      'in a gauge that comes back to the others',
      { gaugePoints: (t: number, k: number) => (k === 1 && !isFrom(t, '+10 20:00') ? -6 : 0) },
    ],
    [
      'in a pack that no longer carries',
      { carries: (t: number, k: number) => (k === 1 && isFrom(t, '+10 12:00') ? 0 : 1) },
    ],
    ['in packs that send no current', { hasCurrent: () => false }],
    [
      'in a week away, resting',
      { bankC: (t: number, pct: number) => (isFrom(t, '+9 16:00') ? 0 : dayCycle()(t, pct)) },
    ],
    [
      'in a pack that is silent for days',
      { isSilent: (t: number, k: number) => k === 1 && isFrom(t, '+10 00:00') && !isFrom(t, '+14 00:00') },
    ],
  ] satisfies [string, Partial<PackLog>][])('%s', (_, over: Partial<PackLog>) => {
    expect(found(log(over)).map(inShort)).toEqual([]);
  });
});

describe('packCount finds', () => {
  test.each([
    ['of two', TWO],
    ['of three', THREE],
  ])('a gauge %s that jumps, within the hour, and knows which', (_, ids) => {
    const own = log({ ids, gaugePoints: (t, k) => (k === 1 && isFrom(t, '+10 20:10') ? -9 : 0) });
    const [finding, ...others] = found(own, ids);
    expect(others).toEqual([]);
    expect(inShort(finding!)).toBe('soc_divergence p2 gauge_error');
    expect(Math.abs(finding!.start - at('+10 20:10'))).toBeLessThanOrEqual(HOUR_MS / 2);
    expect(finding!.detectedAt - at('+10 20:10')).toBeLessThanOrEqual(HOUR_MS);
  });

  test('a gauge that runs off by 3 points a day, within two days', () => {
    const [finding, ...others] = found(log({ to: '+13 00:00', everyS: 60, gaugePoints: runsOff(2, '+10 06:00', -3) }));
    expect(others).toEqual([]);
    expect(inShort(finding!)).toBe('soc_divergence p3 gauge_error');
    expect(finding!.detectedAt - at('+10 06:00')).toBeLessThanOrEqual(2 * DAY_MS);
    expect(Math.abs(finding!.start - at('+10 06:00'))).toBeLessThanOrEqual(DAY_MS);
  });

  test('a gauge that is right again after days, and says when', () => {
    const own = log({
      to: '+20 00:00',
      gaugePoints: (t, k) => (k === 1 && isFrom(t, '+10 20:00') && !isFrom(t, '+13 20:00') ? -9 : 0),
    });
    const [finding, ...others] = found(own);
    expect(others).toEqual([]);
    expect(Math.abs(finding!.end! - at('+13 20:00'))).toBeLessThanOrEqual(HOUR_MS);
  });

  test('a pack that lost a third of its capacity, in its second cycle at the latest, with the capacity', () => {
    // Truth: p2 has 70 Ah of its 100, and its gauge, which knows, swings by 100/70.
    const whole = log({ to: '+10 12:00' });
    const lost = log({ capacityAh: [100, 70, 100] }).filter(({ t }) => isFrom(t, '+10 12:00'));
    const [finding, ...others] = found([...whole, ...lost]);
    expect(others).toEqual([]);
    expect(inShort(finding!)).toBe('pack_capacity_loss p2');
    expect(finding!.detectedAt - at('+10 12:00')).toBeLessThanOrEqual(2.5 * DAY_MS);
    expect(finding!.value).toBeGreaterThan(66);
    expect(finding!.value).toBeLessThan(74);
    expect(finding!.baseline).toBeCloseTo(100, -1);
  });

  test('what it says when it is cut at any time, as it said live', () => {
    const own = log({
      ids: TWO,
      to: '+12 00:00',
      everyS: 3600,
      gaugePoints: (t, k) => (k === 1 && isFrom(t, '+9 20:00') ? -9 : 0),
    });
    checkEveryCut(packCount, siteFor(TWO), own);
  });
});

test('the state of packCount stops growing once the baseline is learnt', () => {
  const site = siteFor(TWO);
  const own = log({ ids: TWO, to: '+16 00:00' });
  const sizeAt = (to: string): number =>
    JSON.stringify(
      foldLog(
        packCount,
        site,
        own.filter(({ t }) => t < at(to)),
      ),
    ).length;
  expect(sizeAt('+15 00:00')).toBeLessThan(1.05 * sizeAt('+12 00:00'));
  expect(blocksOf(own)).toHaveLength(16);
});
