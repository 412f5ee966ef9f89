import { describe, expect, test } from 'vitest';
import { frequencyDisagreement } from '../../../ingest/analysis/frequency-disagreement.ts';
import { at, checkEveryCut, clock, findingsOf, type Line, lines, siteOf } from './_check.ts';

/** A grid that wanders by some hundredths of a hertz. */
const gridHz = (t: number): number => 50 + 0.03 * Math.sin(t / 400_000) + 0.01 * Math.sin(t / 37_000);
/** An island that sags with its load, which steps every few minutes. */
const islandHz = (t: number): number => 49.9 - 0.25 * (Math.floor(t / 190_000) % 3);
const rounded = (hz: number, stepHz: number): number => Math.round(Math.round(hz / stepHz) * stepHz * 100) / 100;

interface Story {
  /** Hz that a unit reports too much, and when. */
  readonly off?: Readonly<Record<string, readonly [string, string, number]>>;
  readonly island?: readonly [string, string];
  readonly stepHz?: number;
  readonly units?: readonly string[];
  /** Whether units send the frequency of their grid input. */
  readonly input?: boolean;
}

function log({ off = {}, island, stepHz = 0.01, units = ['u1', 'u2'], input = false }: Story): Line[] {
  return units.flatMap((id, k) =>
    lines('08:00', '12:00', 30, (t0) => {
      const t = t0 + 11_000 * k;
      const isAway = island !== undefined && t >= at(island[0]) && t < at(island[1]);
      const span = off[id];
      const extra = span !== undefined && t >= at(span[0]) && t < at(span[1]) ? span[2] : 0;
      const busHz = isAway ? islandHz(t) : gridHz(t);
      return {
        unit: id,
        mode: isAway ? 'backup' : 'grid',
        grid_voltage_v: isAway ? 0 : 230,
        output_voltage_v: 230,
        output_frequency_hz: rounded(busHz + extra, stepHz),
        ...(input && !isAway ? { grid_frequency_hz: rounded(gridHz(t), stepHz) } : {}),
      };
    }).map((line) => ({ ...line, t: line.t + 11_000 * k })),
  );
}

const TWO = siteOf({ intervalS: 30 });
const THREE = siteOf({ intervalS: 30, units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }] });

describe('frequencyDisagreement', () => {
  test('of three units the odd one is named, from its first calm reading on', () => {
    const story = { units: ['u1', 'u2', 'u3'], off: { u2: ['09:00', '10:00', 0.2] as const } };
    const [finding, ...others] = findingsOf(frequencyDisagreement, THREE, log(story));
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: 'u2', severity: 'soon' });
    expect(clock(finding!.start)).toBe('09:00:41');
    expect(finding!.detectedAt - finding!.start).toBeLessThan(8 * 60_000);
    expect(Math.abs(finding!.end! - at('10:00'))).toBeLessThan(2 * 60_000);
    expect(finding!.evidence.difference_hz).toBeCloseTo(0.2, 1);
  });

  test('of two units alone it cannot be told which', () => {
    const [finding, ...others] = findingsOf(frequencyDisagreement, TWO, log({ off: { u2: ['09:00', '11:00', -0.3] } }));
    expect(others).toEqual([]);
    expect(finding).toMatchObject({ subject: null, candidates: ['u1', 'u2'] });
  });

  test('on the grid their inputs are witnesses, and tell which of two', () => {
    const story = { off: { u2: ['09:00', '11:00', -0.3] as const }, input: true };
    const findings = findingsOf(frequencyDisagreement, TWO, log(story));
    expect(findings.map(({ subject }) => subject)).toEqual(['u2']);
  });

  test('is found on the site’s own too', () => {
    const story = { island: ['09:00', '11:00'] as const, off: { u1: ['09:30', '11:00', 0.3] as const } };
    const [finding, ...others] = findingsOf(frequencyDisagreement, TWO, log(story));
    expect(others).toEqual([]);
    expect(finding!.evidence.mode).toBe('backup');
    expect(finding!.start).toBeGreaterThanOrEqual(at('09:30'));
    expect(finding!.start).toBeLessThan(at('09:36'));
  });

  test.each<[string, Story]>([
    ['a grid that wanders between the samples', {}],
    ['an island whose load steps', { island: ['09:00', '11:00'] }],
    ['units that round to a tenth', { stepHz: 0.1 }],
    ['a calibration apart by three hundredths', { off: { u2: ['08:00', '12:00', 0.03] } }],
    ['a difference of two minutes', { off: { u2: ['09:00', '09:02', 0.5] } }],
  ])('%s is none', (_, story) => {
    expect(findingsOf(frequencyDisagreement, TWO, log(story))).toEqual([]);
  });

  test('cut at any time the log says what was said live', () => {
    const whole = log({ units: ['u1', 'u2', 'u3'], off: { u3: ['08:10', '08:30', 0.2] } });
    checkEveryCut(
      frequencyDisagreement,
      THREE,
      whole.filter(({ t }) => t >= at('08:05') && t < at('08:40')),
    );
  }, 60_000);
});
