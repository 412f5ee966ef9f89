import { describe, expect, test } from 'vitest';
import { createSiteRun, simulateDay } from '../../../ingest/demo/simulate-site.ts';
import { labelSite } from '../../../ingest/demo/site-labels.ts';
import type { SitePlan } from '../../../ingest/demo/site-plan.ts';
import { instantIn, STORIES } from '../../../ingest/demo/stories.ts';
import { DAY_MS, epochMs, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import { FROM, periodOf, sampleSite } from './_sample-site.ts';

interface Line {
  readonly t: string | number;
  readonly unit?: string;
  readonly pack?: string;
  readonly mode?: string;
  readonly alarm?: string;
  readonly state?: string;
  readonly [key: string]: unknown;
}

/** Every line of a site, day by day in order of arrival, and its labels. */
function run(plan: SitePlan, days: number, everyS: number, eventEveryS = everyS) {
  const period = periodOf(days, everyS, eventEveryS);
  const site = createSiteRun(plan, period, 7, 'ndjson');
  const byDay: Line[][] = [];
  for (let day: number = period.from; day < period.to; day += DAY_MS) {
    const [file] = simulateDay(site, day);
    byDay.push(
      new TextDecoder()
        .decode(file!.bytes)
        .trimEnd()
        .split('\n')
        .map((line): Line => JSON.parse(line)),
    );
  }
  return { byDay, lines: byDay.flat(), labels: labelSite(site.state), state: site.state, readings: site.readings };
}

const timeOf = (line: Line) => (typeof line.t === 'number' ? line.t : Date.parse(line.t));
const num = (line: Line, key: string) => {
  const value = line[key];
  if (typeof value !== 'number') throw new Error(`${key} is ${String(value)}`);
  return value;
};
const story = (id: string, days: number) => STORIES.map((make) => make(periodOf(days))).find((plan) => plan.id === id)!;

/** Mean share of a unit where its site is loaded, in [from, to). */
function shareOf(lines: readonly Line[], unit: string, from: number, to: number, leastW: number): number {
  let own = 0;
  let all = 0;
  for (const line of lines) {
    const t = timeOf(line);
    if (line.unit === undefined || line.output_power_w === undefined || t < from || t >= to) continue;
    if (num(line, 'output_power_w') < leastW) continue;
    all += num(line, 'output_power_w');
    if (line.unit === unit) own += num(line, 'output_power_w');
  }
  return own / all;
}

describe('simulateDay', () => {
  test('cable length alone makes the clinic share 54 to 46, in every week alike', () => {
    const { lines } = run(story('oxholm-clinic', 14), 14, 300);
    for (const week of [0, 7]) {
      expect(shareOf(lines, 'u1', FROM + week * DAY_MS, FROM + (week + 7) * DAY_MS, 1200)).toBeCloseTo(0.545, 1);
    }
  });

  test('on a grid loss all units pass to backup within one second and return together; the grid reads about nothing meanwhile', () => {
    const plan = sampleSite({ testAt: instantIn(periodOf(3), 0.5, 10) });
    const { lines, state } = run(plan, 3, 600, 10);
    const test = state.outages.find((o) => o.occasion === 'test')!;
    const dark = lines.filter(
      (l) => l.unit !== undefined && l.output_power_w !== undefined && timeOf(l) >= test.start && timeOf(l) < test.end,
    );
    expect(dark.length).toBeGreaterThan(80);
    for (const line of dark) {
      const t = timeOf(line);
      if (t > test.start + 1000 && t < test.end - 1000) expect(line.mode).toBe('backup');
      if (t < test.gridBack) {
        expect(num(line, 'grid_voltage_v')).toBeLessThan(3);
        expect(line.grid_frequency_hz).toBeUndefined();
      } else expect(num(line, 'grid_voltage_v')).toBeGreaterThan(220);
      expect(num(line, 'output_voltage_v')).toBeGreaterThan(215);
    }
    const after = lines.filter((l) => l.mode !== undefined && timeOf(l) >= test.end && timeOf(l) < test.end + 60_000);
    expect(new Set(after.map((l) => l.mode))).toEqual(new Set(['grid']));
  });

  test('direct currents of the units sum to the currents of the packs', () => {
    const { byDay } = run(sampleSite({ duty: 'evening' }), 1, 300);
    const perTick = new Map<number, { units: number; packs: number }>();
    for (const line of byDay[0]!) {
      const tick = Math.floor(timeOf(line) / 300_000);
      const sums = perTick.get(tick) ?? { units: 0, packs: 0 };
      if (line.dc_current_a !== undefined) sums.units += num(line, 'dc_current_a');
      if (line.pack_current_a !== undefined) sums.packs += num(line, 'pack_current_a');
      perTick.set(tick, sums);
    }
    const off = [...perTick.values()].map(({ units, packs }) => Math.abs(units - packs) - 0.02 * Math.abs(packs));
    // Single ticks differ by a lost or doubled line or a change of mode between two instants.
    expect(off.filter((a) => a > 1).length).toBeLessThan(0.06 * off.length);
    expect(Math.max(...[...perTick.values()].map(({ packs }) => packs))).toBeGreaterThan(40);
  });

  test('healthy sites hold every outage and have no fault to label', () => {
    for (const make of STORIES) {
      const plan = make(periodOf(21));
      if (plan.faults.length > 0) continue;
      const { labels } = run(plan, 21, 1200);
      expect(labels.healthy).toBe(true);
      expect(labels.faults).toEqual([]);
      expect(labels.events.length).toBeGreaterThan(0);
      expect(labels.events.filter((event) => !event.held || event.output_lost_s > 0)).toEqual([]);
    }
  });

  test('AC-coupled PV is held back by a frequency above 50.2 and within 52 Hz', () => {
    const { lines } = run(story('linnet-ford-farm', 10), 10, 120);
    const inBackup = lines.filter((l) => l.mode === 'backup').map((l) => num(l, 'output_frequency_hz'));
    expect(Math.max(...inBackup)).toBeGreaterThan(50.25);
    expect(Math.max(...inBackup)).toBeLessThan(52);
    expect(lines.some((l) => l.meter === 'm1' && num(l, 'meter_power_w') > 1000)).toBe(true);
  });

  test('an outage whose lines come late is written to a later file, whole', () => {
    const plan = sampleSite({ lateOutage: true });
    const { byDay, state } = run(plan, 6, 600, 60);
    const [first] = state.outages;
    const startDay = Math.floor((first!.start - FROM) / DAY_MS);
    const isOf = (l: Line) => l.mode !== undefined && timeOf(l) >= first!.start && timeOf(l) < first!.end;
    expect(
      byDay
        .slice(0, startDay + 1)
        .flat()
        .filter(isOf),
    ).toEqual([]);
    expect(
      byDay
        .slice(startDay + 1)
        .flat()
        .filter(isOf).length,
    ).toBeGreaterThan(3);
  });
});

describe('faults in the logs', () => {
  const days = 14;
  const start = epochMs(FROM + 6 * DAY_MS);
  const before = [FROM, start] as const;
  const after = [start + 4 * DAY_MS, FROM + days * DAY_MS] as const;

  test('a loose terminal takes share from its unit by the ratio of resistances', () => {
    const plan = sampleSite({
      faults: [{ what: 'loose_terminal', unit: 'u2', addedOhm: 0.02, rampDays: 2, start, end: null }],
    });
    const { lines } = run(plan, days, 300);
    const fall = shareOf(lines, 'u2', ...before, 600) - shareOf(lines, 'u2', ...after, 600);
    expect(fall).toBeGreaterThan(0.06);
    expect(fall).toBeLessThan(0.15);
  });

  test('a dead fan warms the heatsink, raises an alarm and cuts the unit back where the load is high', () => {
    const plan = sampleSite({
      sharing: { grid: 'droop', backup: 'droop' },
      faults: [{ what: 'dead_fan', unit: 'u2', start, end: null }],
    });
    const { lines } = run(plan, days, 120);
    expect(lines.some((l) => l.alarm === 'over temperature' && l.state === 'raised' && l.unit === 'u2')).toBe(true);
    expect(lines.some((l) => l.alarm !== undefined && l.unit !== 'u2')).toBe(false);
    const most = (from: number, to: number) =>
      Math.max(
        ...lines.flatMap((l) =>
          l.unit === 'u2' && l.load_pct !== undefined && timeOf(l) >= from && timeOf(l) < to
            ? [num(l, 'load_pct')]
            : [],
        ),
      );
    expect(most(...before) - most(...after)).toBeGreaterThan(5);
    const high = (from: number, to: number) => shareOf(lines, 'u2', from, to, 2300);
    expect(high(...before) - high(...after)).toBeGreaterThan(0.02);
  });

  test('a gauge that drifts parts from the others while its current keeps step', () => {
    const plan = sampleSite({ faults: [{ what: 'gauge_drift', pack: 'p2', pctPerDay: 1.5, start, end: null }] });
    const { lines } = run(plan, days, 300);
    const last = (pack: string, key: string) =>
      num(lines.filter((l) => l.pack === pack && l[key] !== undefined).at(-1)!, key);
    expect(last('p1', 'soc_pct') - last('p2', 'soc_pct')).toBeGreaterThan(8);
    expect(Math.abs(last('p1', 'pack_current_a') - last('p2', 'pack_current_a'))).toBeLessThan(6);
  });

  test('an open pack carries nothing, a broken link leaves one unit without the battery, dead lines fall silent', () => {
    const plan = sampleSite({
      faults: [
        { what: 'pack_open', pack: 'p1', start, end: null },
        { what: 'link_broken', unit: 'u3', start, end: null },
        { what: 'unit_gateway_dead', unit: 'u1', start, end: epochMs(start + 6 * HOUR_MS) },
        { what: 'pack_line_dead', pack: 'p2', start, end: null },
      ],
    });
    const { lines } = run(plan, days, 300);
    const later = lines.filter((l) => timeOf(l) >= start && l.settings === undefined);
    for (const line of later.filter((l) => l.pack === 'p1'))
      expect(Math.abs(num(line, 'pack_current_a'))).toBeLessThan(0.4);
    expect(later.filter((l) => l.unit === 'u3' && l.battery_soc_pct !== undefined)).toEqual([]);
    expect(later.some((l) => l.unit === 'u2' && l.battery_soc_pct !== undefined)).toBe(true);
    expect(later.filter((l) => l.pack === 'p2')).toEqual([]);
    const u1 = later.filter((l) => l.unit === 'u1').map(timeOf);
    expect(Math.min(...u1)).toBeGreaterThanOrEqual(start + 6 * HOUR_MS);
  });

  test('an overload on its own sags the frequency below 49 Hz, trips the output, and is labelled second by second', () => {
    const plan = sampleSite({
      kind: 'workshop',
      faults: [{ what: 'overload', addedShare: 0.75, trips: true, start, end: null }],
    });
    const { lines, labels } = run(plan, days, 1200, 20);
    const sagged = labels.faults.filter((fault) => fault.kind === 'frequency_excursion');
    const lost = labels.faults.filter((fault) => fault.kind === 'output_lost');
    expect(sagged.length).toBeGreaterThan(0);
    expect(lost.length).toBeGreaterThan(0);
    const event = labels.events.find((e) => e.output_lost_s > 0)!;
    expect(event.held).toBe(false);
    const dead = lines.filter((l) => l.mode === 'fault');
    expect(dead.length).toBeGreaterThan(0);
    for (const line of dead) {
      expect(num(line, 'output_power_w')).toBe(0);
      expect(lost.some((f) => timeOf(line) >= Date.parse(f.start) && timeOf(line) <= Date.parse(f.end!))).toBe(true);
    }
    expect(lines.some((l) => l.alarm === 'overload' && l.state === 'raised')).toBe(true);
    expect(
      Math.min(...lines.flatMap((l) => (l.mode === 'backup' ? [num(l, 'output_frequency_hz')] : []))),
    ).toBeLessThan(49);
  });

  test('a set whose voltage is weak leaves the band on its own, and stays on the grid as it was', () => {
    const plan = sampleSite({ faults: [{ what: 'weak_voltage', sagOhm: 0.9, start, end: null }] });
    const { labels } = run(plan, days, 1200, 60);
    expect(labels.faults.some((fault) => fault.kind === 'voltage_excursion')).toBe(true);
    expect(labels.events.every((e) => e.held || Date.parse(e.start) > start)).toBe(true);
  });

  test('what one pack loses of its capacity it no longer carries', () => {
    const plan = sampleSite({
      faults: [{ what: 'pack_capacity', pack: 'p1', factor: 0.65, rampDays: 1, start, end: null }],
    });
    const { lines } = run(plan, days, 300);
    const drawnAh = (pack: string, from: number, to: number) =>
      lines.reduce(
        (sum, l) =>
          sum +
          (l.pack === pack && timeOf(l) >= from && timeOf(l) < to ? Math.max(0, num(l, 'pack_current_a')) / 12 : 0),
        0,
      );
    const ratio = (from: number, to: number) => drawnAh('p1', from, to) / drawnAh('p2', from, to);
    expect(ratio(...before)).toBeGreaterThan(0.93);
    expect(ratio(...after) / ratio(...before)).toBeLessThan(0.8);
  });
});
