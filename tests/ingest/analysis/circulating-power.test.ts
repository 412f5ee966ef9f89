import { describe, expect, test } from 'vitest';
import { circulatingPower } from '../../../ingest/analysis/circulating-power.ts';
import type { SiteRecord } from '../../../ingest/site/record.ts';
import { at, check, checkEveryCut, findingsOf, type Line, lines, siteOf } from './_check.ts';

type Power = (t: number) => number;

/** Two units from 20:00 to 23:00, on their own in the span, sampled every 30 s. */
function log(first: Power, second: Power, island: readonly [string, string] | null): Line[] {
  return [first, second].flatMap((power, k) =>
    lines('20:00', '23:00', 30, (t0) => {
      const t = t0 + 9000 * k;
      const isAway = island !== null && t >= at(island[0]) && t < at(island[1]);
      return {
        unit: `u${k + 1}`,
        mode: isAway ? 'backup' : 'grid',
        grid_voltage_v: isAway ? 0 : 230,
        output_power_w: power(t),
      };
    }).map((line) => ({ ...line, t: line.t + 9000 * k })),
  );
}

const sharing = (grid: SiteRecord['sharing']['grid'], backup: SiteRecord['sharing']['backup']) =>
  siteOf({ intervalS: 30, more: { sharing: { grid, backup } } });
const DROOP = sharing('wired', 'droop');
const ISLAND = ['21:00', '22:00'] as const;
/** In light load, 21:20 to 21:50 where on its own, 600 W go round. */
const lightly =
  (part: number, roundW: number): Power =>
  (t) =>
    (t >= at('21:20') && t < at('21:50') ? 200 : 3000) * part + roundW;

describe('circulatingPower', () => {
  test('is found in light load on the site’s own, and lasts while nothing speaks against it', () => {
    const whole = log(lightly(0.5, 600), lightly(0.5, -600), ISLAND);
    check(circulatingPower, DROOP, whole, ['circulating_power site 21:20:09 seen 21:25:09 to now plan']);
    const [finding] = findingsOf(circulatingPower, DROOP, whole);
    expect(finding).toMatchObject({ value: 500, limit: 240 });
    expect(finding!.evidence).toMatchObject({ giving: 'u1', taking: 'u2', giving_w: 700, taking_w: -500 });
  });

  test('ends where light load no longer shows it', () => {
    const isOver = (t: number): boolean => t >= at('21:35');
    const whole = log(
      (t) => 100 + (isOver(t) ? 20 : 600),
      (t) => 100 - (isOver(t) ? 20 : 600),
      ISLAND,
    );
    check(circulatingPower, DROOP, whole, ['circulating_power site 21:00:09 seen 21:05:09 to 21:35:09 plan']);
  });

  test('on the grid too where the units form the output there', () => {
    const whole = log(lightly(0.5, 600), lightly(0.5, -600), null);
    expect(findingsOf(circulatingPower, sharing('droop', 'droop'), whole)).toHaveLength(1);
  });

  test.each<[string, Line[], ReturnType<typeof sharing>]>([
    [
      'unequal powers at light load',
      log(
        () => 120,
        () => 15,
        ISLAND,
      ),
      DROOP,
    ],
    [
      'calibration that sends a little round',
      log(
        () => 150,
        () => -90,
        ISLAND,
      ),
      DROOP,
    ],
    [
      'PV that both units absorb, unequally',
      log(
        () => -1400,
        () => -300,
        ISLAND,
      ),
      DROOP,
    ],
    [
      'behind closed relays',
      log(
        () => 700,
        () => -600,
        null,
      ),
      sharing('wired', 'droop'),
    ],
    [
      'equalised over a link',
      log(
        () => 700,
        () => -600,
        ISLAND,
      ),
      sharing('wired', 'link'),
    ],
    [
      'a load that swings between the samples',
      log(
        (t) => (Math.floor(t / 60_000) % 2 === 0 ? 900 : -900),
        (t) => (Math.floor(t / 60_000) % 2 === 0 ? -900 : 900),
        ISLAND,
      ),
      DROOP,
    ],
    [
      'a unit that has stopped',
      log(
        () => 700,
        () => -600,
        ISLAND,
      ).map((line) => (line.unit === 'u2' ? { ...line, mode: 'fault', grid_voltage_v: 230 } : line)),
      DROOP,
    ],
  ])('%s is none', (_, whole, site) => {
    check(circulatingPower, site, whole, []);
  });

  test('cut at any time the log says what was said live', () => {
    const whole = log(lightly(0.5, 600), lightly(0.5, -600), ISLAND);
    checkEveryCut(
      circulatingPower,
      DROOP,
      whole.filter(({ t }) => t >= at('21:15') && t < at('21:35')),
    );
  }, 60_000);
});
