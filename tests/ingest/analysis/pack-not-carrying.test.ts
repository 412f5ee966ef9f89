import { describe, expect, test } from 'vitest';
import { packNotCarrying } from '../../../ingest/analysis/pack-not-carrying.ts';
import type { SiteHistory } from '../../../ingest/site/record.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, checkEveryCut, findingsOf, type Line, siteOf } from './_check.ts';
import { dayCycle, type PackLog, packLog } from './_pack-log.ts';

const TWO = ['p1', 'p2'];
const siteFor = (packs: readonly string[]): SiteHistory => siteOf({ packs, intervalS: 300 });
const log = (over: Partial<PackLog>): Line[] => packLog({ ids: TWO, to: '+26 00:00', ...over });
const isFrom = (t: number, from: string): boolean => t >= at(from);

describe('packNotCarrying finds nothing', () => {
  test.each([
    ['in packs that share as they did', {}],
    ['where no current is sent', { hasCurrent: () => false }],
    [
      'in gauges that run off: the current tells the truth',
      { gaugePoints: (t: number, k: number) => (k === 1 && isFrom(t, '+14 00:00') ? -15 : 0) },
    ],
    [
      'in a pack that is silent for days',
      { isSilent: (t: number, k: number) => k === 1 && t > at('+12 00:00') && t < at('+16 00:00') },
    ],
    ['in half the usual cycle', { bankC: (t: number, pct: number) => dayCycle(t < at('+10 00:00') ? 1 : 0.6)(t, pct) }],
  ] satisfies [string, Partial<PackLog>][])('%s', (_, over: Partial<PackLog>) => {
    expect(findingsOf(packNotCarrying, siteFor(TWO), log(over))).toEqual([]);
  });

  test('before the baseline is in, and says so', () => {
    const site = siteFor(TWO);
    expect(
      findingsOf(
        packNotCarrying,
        site,
        log({ to: '+5 00:00', carries: (t, k) => (k === 1 && isFrom(t, '+3 00:00') ? 0 : 1) }),
      ),
    ).toEqual([]);
  });
});

describe('packNotCarrying names', () => {
  test('the pack whose contactor opened, within a day, and none beside it', () => {
    const opened = log({ carries: (t, k) => (k === 1 && isFrom(t, '+14 10:00') ? 0 : 1) });
    const [finding, ...others] = findingsOf(packNotCarrying, siteFor(TWO), opened);
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ kind: 'pack_not_carrying', subject: 'p2', end: null, severity: 'soon', value: 0 });
    expect(finding!.baseline).toBeCloseTo(1, 1);
    expect(Math.abs(finding!.start - at('+14 10:00'))).toBeLessThanOrEqual(8 * HOUR_MS);
    expect(finding!.detectedAt - at('+14 10:00')).toBeLessThan(24 * HOUR_MS);
  });

  test('one of three, and ends it when the pack carries again', () => {
    const three = ['p1', 'p2', 'p3'];
    const own = log({
      ids: three,
      to: '+34 00:00',
      carries: (t, k) => (k === 2 && isFrom(t, '+14 10:00') && !isFrom(t, '+20 10:00') ? 0 : 1),
    });
    const findings = findingsOf(packNotCarrying, siteFor(three), own);
    expect(findings.map(({ kind, subject }) => `${kind} ${subject}`)).toEqual(['pack_not_carrying p3']);
    expect(findings[0]!.end).toBeGreaterThan(at('+20 00:00'));
    expect(findings[0]!.end).toBeLessThan(at('+23 00:00'));
  });

  test('a pack that lost capacity as such: it carries less, and swings more for what it carries', () => {
    // Truth: p2 has 60 Ah of its 100. It takes 60 parts of 160, and its gauge, which knows, swings by 100/60.
    const own = packLog({ ids: TWO, to: '+26 00:00', capacityAh: [100, 60] });
    const whole = packLog({ ids: TWO, to: '+12 00:00' });
    const lost = [...whole, ...own.filter(({ t }) => t >= at('+12 00:00'))];
    const [finding, ...others] = findingsOf(packNotCarrying, siteFor(TWO), lost);
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ kind: 'pack_capacity_loss', subject: 'p2', severity: 'plan' });
    expect(finding!.value).toBeGreaterThan(54);
    expect(finding!.value).toBeLessThan(66);
    expect(finding!.baseline).toBeCloseTo(100, -1);
  });

  test('what it says when it is cut at any time, as it said live', () => {
    checkEveryCut(
      packNotCarrying,
      siteFor(TWO),
      packLog({
        ids: TWO,
        to: '+17 00:00',
        everyS: 3600,
        carries: (t, k) => (k === 1 && isFrom(t, '+12 10:00') ? 0 : 1),
      }),
    );
  });
});
