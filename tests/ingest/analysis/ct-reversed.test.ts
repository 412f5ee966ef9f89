import { describe, expect, test } from 'vitest';
import { ctReversed } from '../../../ingest/analysis/ct-reversed.ts';
import { at, checkEveryCut, clock, findingsOf, type Line, lines, siteOf } from './_check.ts';

interface Story {
  /** When the transformer is turned; never where absent. */
  readonly turned?: readonly [string, string];
  readonly to?: string;
  /** Load that is not backed up, W. */
  readonly otherW?: (t: number) => number;
  /** What the units give from the battery, W. */
  readonly batteryW?: (loadW: number, t: number) => number;
  readonly sendsGrid?: boolean;
}

/** A backed-up load that steps every few minutes between 500 W and 3,500 W, not in step with the samples. */
const load = (t: number): number => 500 + ((Math.floor(t / 290_000) * 7919) % 3000);

/** Two units that share the load 46 : 54, sampled every 30 s at different seconds; u1 owns the transformer. */
function log({ turned, to = '20:00', otherW = () => 0, batteryW = () => 0, sendsGrid = true }: Story): Line[] {
  const unit = (id: string, share: number, lateS: number): Line[] =>
    lines('06:00', to, 30, (t0) => {
      const t = t0 + lateS * 1000;
      const noise = (((t / 1000) * 37) % 11) - 5;
      const gridW = load(t) - batteryW(load(t), t);
      const isTurned = turned !== undefined && t >= at(turned[0]) && t < at(turned[1]);
      const ct = (isTurned ? -1 : 1) * (gridW + otherW(t));
      return {
        unit: id,
        mode: 'grid',
        grid_voltage_v: 230,
        output_power_w: share * load(t) + noise,
        ...(sendsGrid ? { grid_power_w: share * gridW + noise } : {}),
        ...(id === 'u1' ? { ct_power_w: ct + 2 * noise } : {}),
      };
    }).map((line) => ({ ...line, t: line.t + lateS * 1000 }));
  return [...unit('u1', 0.46, 0), ...unit('u2', 0.54, 13)];
}

const SITE = siteOf({ intervalS: 30 });

describe('ctReversed', () => {
  test('is found from the start, under the unit that owns the transformer', () => {
    const [finding, ...others] = findingsOf(ctReversed, SITE, log({ turned: ['00:00', '23:00'] }));
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: 'u1', severity: 'plan', end: null });
    expect(clock(finding!.start)).toBe('06:00:00');
    expect(finding!.detectedAt).toBeLessThan(at('07:30'));
    expect(finding!.evidence.from_the_start).toBe(true);
    expect(finding!.value).toBeCloseTo(-1, 1);
  });

  test('a change is dated between the last reading that was right and the first that was not', () => {
    const [finding, ...others] = findingsOf(ctReversed, SITE, log({ turned: ['12:00', '23:00'] }));
    expect(others).toEqual([]);
    expect(Math.abs(finding!.start - at('12:00'))).toBeLessThan(15 * 60_000);
    expect(finding!.detectedAt).toBeLessThan(at('13:30'));
  });

  test('ends when it is turned back', () => {
    const [finding, ...others] = findingsOf(ctReversed, SITE, log({ turned: ['09:00', '13:00'] }));
    expect(others).toEqual([]);
    expect(Math.abs(finding!.end! - at('13:00'))).toBeLessThan(30 * 60_000);
  });

  test('is found where only the output is sent', () => {
    const findings = findingsOf(ctReversed, SITE, log({ turned: ['00:00', '23:00'], sendsGrid: false }));
    expect(findings.map(({ subject }) => subject)).toEqual(['u1']);
  });

  test.each<[string, Story]>([
    ['a transformer that is right', {}],
    ['loads besides that step by themselves', { otherW: (t) => (Math.floor(t / 410_000) % 3) * 2500 }],
    [
      'a battery that holds the transformer at nothing, as far as it can',
      {
        otherW: (t) => (Math.floor(t / 410_000) % 3) * 2500,
        batteryW: (w, t) => Math.min(3000, w + (Math.floor(t / 410_000) % 3) * 2500),
      },
    ],
    ['a site that gives to the grid', { batteryW: () => 4000 }],
  ])('%s is none', (_, story) => {
    expect(findingsOf(ctReversed, SITE, log(story))).toEqual([]);
  });

  test('cut at any time the log says what was said live', () => {
    const short = log({ turned: ['00:00', '23:00'], to: '07:20' });
    expect(findingsOf(ctReversed, SITE, short)).toHaveLength(1);
    checkEveryCut(ctReversed, SITE, short);
  }, 60_000);
});
