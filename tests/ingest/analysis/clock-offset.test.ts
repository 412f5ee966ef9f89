import { describe, expect, test } from 'vitest';
import { clockOffset } from '../../../ingest/analysis/clock-offset.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { HOUR_MS, SECOND_MS } from '../../../ingest/vocabulary/time.ts';
import { at, findingsOf, type Line, siteOf } from './_check.ts';

interface ClockLog {
  readonly ids: readonly string[];
  readonly to: string;
  readonly everyS?: number;
  /** How late each unit's stamps are, s. */
  readonly lateS?: (t: number, unit: number) => number;
  /** When the load may step, s: 1 for any second. */
  readonly stepsOnS?: number;
  /** Where in the interval each unit is read, s, and how far that wanders. */
  readonly phaseS?: (unit: number) => number;
  readonly jitterS?: number;
}

/** Units that share one load, each read by a clock of its own. */
function clockLog({
  ids,
  to,
  everyS = 30,
  lateS = () => 0,
  stepsOnS = 1,
  phaseS = (k) => 7 * k,
  jitterS = 3,
}: ClockLog): Line[] {
  const prng = createPrng(11, 'clocks');
  const steps: { t: number; w: number }[] = [{ t: at('00:00'), w: 2000 }];
  while (steps.at(-1)!.t < at(to)) {
    const nextS = prng.whole(200, 1200);
    const t = Math.ceil((steps.at(-1)!.t / SECOND_MS + nextS) / stepsOnS) * stepsOnS * SECOND_MS;
    steps.push({ t, w: prng.whole(6, 60) * 150 });
  }
  const out: Line[] = [];
  for (const [k, unit] of ids.entries()) {
    let i = 0;
    for (let slot = at('00:00'); slot < at(to); slot += everyS * SECOND_MS) {
      const t = slot + Math.round((phaseS(k) + jitterS * (prng.whole(0, 1000) / 1000)) * SECOND_MS);
      while (i + 1 < steps.length && steps[i + 1]!.t <= t) i++;
      const power = steps[i]!.w / ids.length + prng.whole(-8, 8);
      out.push({ t: t + Math.round(lateS(t, k) * SECOND_MS), unit, output_power_w: power, mode: 'grid' });
    }
  }
  return out;
}

const siteFor = (ids: readonly string[], intervalS = 30) => siteOf({ units: ids.map((id) => ({ id })), intervalS });
const found = (log: ClockLog): readonly Finding[] =>
  findingsOf(clockOffset, siteFor(log.ids, log.everyS), clockLog(log));
const THREE = ['u1', 'u2', 'u3'];
const TWO = ['u1', 'u2'];
const from = (text: string, unit: number, s: number) => (t: number, k: number) => (k === unit && t >= at(text) ? s : 0);

describe('clockOffset finds nothing', () => {
  test.each([
    ['in clocks that agree', { ids: THREE }],
    ['in a clock that steps by 2 s', { ids: THREE, lateS: from('+1 08:00', 1, 2) }],
    ['in units read at other instants of the interval', { ids: THREE, phaseS: (k: number) => 9 * k }],
    [
      'where every step falls on the interval itself',
      { ids: THREE, stepsOnS: 30, phaseS: (k: number) => 4 + 11 * k, jitterS: 0 },
    ],
    [
      'where every step falls on half the interval',
      { ids: TWO, stepsOnS: 15, phaseS: (k: number) => 1 + 6 * k, jitterS: 1 },
    ],
    [
      'where all clocks move together: only differences can be seen',
      { ids: THREE, lateS: (t: number) => (t >= at('+1 08:00') ? 90 : 0) },
    ],
    ['at a sample in 10 s', { ids: TWO, everyS: 10, to: '+1 12:00', phaseS: (k: number) => 3 * k, jitterS: 1 }],
  ] satisfies [string, Partial<ClockLog> & { ids: readonly string[] }][])('%s', (_, log) => {
    expect(found({ to: '+4 00:00', ...log })).toEqual([]);
  });
});

describe('clockOffset names', () => {
  test.each([
    [18, 30],
    [-24, 12],
    [45, 6],
    [-90, 6],
    [400, 12],
    [3600, 12],
    [-7200, 12],
  ])('of three the unit whose stamps are %i s late, within %i h', (lateS, withinH) => {
    const [finding, ...others] = found({ ids: THREE, to: '+4 00:00', lateS: from('+1 08:00', 1, lateS) });
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ kind: 'clock_offset', subject: 'u2', end: null, causes: [] });
    expect(Math.abs(finding!.value! - lateS)).toBeLessThan(Math.max(5, 0.02 * Math.abs(lateS)));
    expect(finding!.detectedAt - at('+1 08:00')).toBeLessThan(withinH * HOUR_MS + Math.abs(lateS) * SECOND_MS);
    expect(finding!.severity).toBe(Math.abs(lateS) >= 30 ? 'plan' : 'info');
  });

  test('of two the one whose own stamps moved by as much', () => {
    const [finding, ...others] = found({ ids: TWO, to: '+3 00:00', lateS: from('+1 08:00', 0, 50) });
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: 'u1' });
    expect(Math.abs(finding!.start - at('+1 08:00'))).toBeLessThanOrEqual(2 * HOUR_MS);
  });

  test('of two that were apart from the first both, because nothing tells which', () => {
    const [finding, ...others] = found({ ids: TWO, to: '+3 00:00', lateS: (_, k) => (k === 1 ? 50 : 0) });
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: null, candidates: TWO });
  });

  test('the end, once the clock is set right', () => {
    const lateS = (t: number, k: number): number => (k === 1 && t >= at('+1 08:00') && t < at('+2 08:00') ? 45 : 0);
    const findings = found({ ids: THREE, to: '+4 00:00', lateS });
    expect(findings.map(({ subject }) => subject)).toEqual(['u2']);
    expect(Math.abs(findings[0]!.end! - at('+2 08:00'))).toBeLessThan(3 * HOUR_MS);
  });

  test('live what it says later: cut at any time near it, the log says the same', () => {
    const log = clockLog({ ids: THREE, to: '+2 06:00', lateS: from('+1 08:00', 1, 45) });
    const site = siteFor(THREE);
    const name = ({ kind, subject, start, detectedAt }: Finding): string => `${kind} ${subject} ${start} ${detectedAt}`;
    const whole = findingsOf(clockOffset, site, log);
    expect(whole).toHaveLength(1);
    const seen = whole[0]!.detectedAt;
    for (const t of [seen - 1, seen, seen + 1, seen + 5 * HOUR_MS]) {
      const cut = findingsOf(
        clockOffset,
        site,
        log.filter((line) => line.t <= t),
      );
      expect(cut.map(name)).toEqual(t < seen ? [] : whole.map(name));
    }
  });
});
