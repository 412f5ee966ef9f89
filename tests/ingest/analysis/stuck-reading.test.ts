import { describe, expect, test } from 'vitest';
import { stuckReading } from '../../../ingest/analysis/stuck-reading.ts';
import { createPrng } from '../../../ingest/demo/prng.ts';
import type { Finding } from '../../../ingest/vocabulary/finding.ts';
import { HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { at, findingsOf, type Line, siteOf } from './_check.ts';

type Change = (t: number, id: string, line: Record<string, number | null>) => Record<string, number | null> | null;
const hourOf = (t: number): number => (t / HOUR_MS) % 24;
const SITE = siteOf({ packs: ['p1', 'p2'], intervalS: 300 });

/** Two units and two packs through so many days: load by day, PV by day, charge parked full for half of it. */
function log(change: Change = (_, __, line) => line, to = '+12 00:00'): Line[] {
  const prng = createPrng(5, 'stuck');
  const noise = (size: number): number => (size * prng.whole(-100, 100)) / 100;
  const tenths = (value: number): number => Math.round(value * 10) / 10;
  const out: Line[] = [];
  let soc = 100;
  for (let t = at('00:00'); t < at(to); t += 300_000) {
    const hour = hourOf(t);
    const amps = hour >= 18 ? 12 : hour >= 9 && hour < 12 && soc < 100 ? -25 : 0;
    soc = Math.max(5, Math.min(100, soc - amps / 12));
    for (const id of ['u1', 'u2']) {
      const load = 800 + 600 * Math.sin(((hour - 6) / 12) * Math.PI) + noise(150);
      const pv = hour > 6 && hour < 18 ? Math.round(2000 * Math.sin(((hour - 6) / 12) * Math.PI) + noise(30)) : 0;
      const line = change(t, id, {
        output_voltage_v: tenths(230 + noise(1)),
        output_power_w: Math.round(load),
        output_current_a: tenths(load / 230 + noise(0.2)),
        pv_power_w: Math.max(0, pv),
        battery_soc_pct: Math.round(soc),
        heatsink_temperature_c: tenths(30 + load / 200 + noise(0.3)),
      });
      if (line !== null) out.push({ t: t + (id === 'u2' ? 4000 : 0), unit: id, ...line });
    }
    for (const id of ['p1', 'p2']) {
      const line = change(t, id, {
        soc_pct: tenths(soc),
        pack_current_a: tenths(amps + noise(0.2)),
        pack_voltage_v: tenths(52 + soc / 80 + noise(0.1)),
      });
      if (line !== null) out.push({ t: t + (id === 'p2' ? 2000 : 1000), pack: id, ...line });
    }
  }
  return out;
}

const found = (change?: Change, to?: string): readonly Finding[] => findingsOf(stuckReading, SITE, log(change, to));
const FROM = at('+9 10:00');
const sticks =
  (who: string, quantity: string, value: number, until = Number.POSITIVE_INFINITY): Change =>
  (t, id, line) =>
    id === who && t >= FROM && t < until ? { ...line, [quantity]: value } : line;

describe('stuckReading finds nothing', () => {
  test.each([
    ['in readings that move, charges parked full and nights without PV', undefined],
    ['in a unit that carries nothing: 0 W is a rest', sticks('u2', 'output_power_w', 0)],
    [
      'in a pack that carries nothing and so keeps its charge',
      (t, id, line) => (id === 'p2' && t >= FROM ? { ...line, soc_pct: 71.3, pack_current_a: 0 } : line),
    ],
    [
      'in a frequency that a set holds from the first day on',
      (_, id, line) => (id === 'u1' || id === 'u2' ? { ...line, output_frequency_hz: 50 } : line),
    ],
    [
      'in a unit that is silent for days',
      (t, id, line) => (id === 'u2' && t >= FROM && t < at('+11 10:00') ? null : line),
    ],
    [
      'in a site that rests as a whole',
      (t, id, line) =>
        t >= FROM
          ? id.startsWith('p')
            ? { soc_pct: 100, pack_current_a: 0, pack_voltage_v: 53.2 }
            : { ...line, battery_soc_pct: 100 }
          : line,
    ],
  ] satisfies [string, Change | undefined][])('%s', (_, change) => {
    expect(found(change)).toEqual([]);
  });

  test('while it learns what is usual, and says so', () => {
    const own = log(
      (t, id, line) => (id === 'u2' && t >= at('+2 00:00') ? { ...line, output_voltage_v: 230.1 } : line),
      '+4 00:00',
    );
    expect(findingsOf(stuckReading, SITE, own)).toEqual([]);
  });
});

describe('stuckReading names', () => {
  test.each([
    ['u2', 'output_voltage_v', 230.3, 8],
    ['u1', 'output_power_w', 1120, 12],
    ['u1', 'heatsink_temperature_c', 33.4, 8],
    ['p1', 'pack_voltage_v', 53.1, 24],
    ['p2', 'soc_pct', 83.4, 24],
  ])('%s whose %s stands at %f, within %i h', (who, quantity, value, withinH) => {
    const [finding, ...others] = found(sticks(who, quantity, value));
    expect(others).toEqual([]);
    expect(finding).toMatchObject({
      kind: 'stuck_reading',
      subject: who,
      measure: quantity,
      value,
      end: null,
      severity: 'plan',
    });
    expect(finding!.evidence.quantity).toBe(quantity);
    expect(Math.abs(finding!.start - FROM)).toBeLessThanOrEqual(HOUR_MS);
    expect(finding!.detectedAt - FROM).toBeLessThan(withinH * HOUR_MS);
  });

  test('a unit that repeats everything once, with all that stands still', () => {
    const frozen = {
      output_voltage_v: 230.3,
      output_power_w: 1120,
      output_current_a: 4.9,
      heatsink_temperature_c: 33.4,
    };
    const findings = found((t, id, line) => (id === 'u2' && t >= FROM ? { ...line, ...frozen } : line));
    expect(findings.map(({ subject }) => subject)).toEqual(['u2']);
    expect(findings[0]!.evidence.quantities).toEqual(
      expect.arrayContaining(['heatsink_temperature_c', 'output_voltage_v']),
    );
  });

  test('the end, with the first reading that moves', () => {
    const [finding, ...others] = found(sticks('u2', 'output_voltage_v', 230.3, at('+10 10:00')));
    expect(others).toEqual([]);
    expect(finding!.end! - at('+10 10:00')).toBeLessThan(HOUR_MS);
  });

  test('live what it says later: cut at any time near it, the log says the same', () => {
    const own = log(sticks('u2', 'output_voltage_v', 230.3), '+10 12:00');
    const name = ({ kind, subject, start, detectedAt }: Finding): string => `${kind} ${subject} ${start} ${detectedAt}`;
    const whole = findingsOf(stuckReading, SITE, own);
    const seen = whole[0]!.detectedAt;
    for (const t of [FROM, seen - 1, seen, seen + 1, seen + HOUR_MS]) {
      const cut = findingsOf(
        stuckReading,
        SITE,
        own.filter((line) => line.t <= t),
      );
      expect(cut.map(name)).toEqual(t < seen ? [] : whole.map(name));
    }
  });
});
