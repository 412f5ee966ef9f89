import { describe, expect, test } from 'vitest';
import { backupEvents, backupEventsAnalyzer } from '../../../ingest/analysis/backup-events.ts';
import type { SiteHistory } from '../../../ingest/site/record.ts';
import type { BackupEvent } from '../../../ingest/vocabulary/finding.ts';
import { at, clock, foldLog, type Line, lines, siteOf } from './_check.ts';

const GRID = {
  mode: 'grid',
  grid_voltage_v: 230,
  output_voltage_v: 230,
  output_frequency_hz: 50,
  output_power_w: 1000,
};
const BACKUP = {
  mode: 'backup',
  grid_voltage_v: 0,
  output_voltage_v: 229,
  output_frequency_hz: 49.97,
  output_power_w: 1000,
};

function eventsOf(site: SiteHistory, log: readonly Line[]): BackupEvent[] {
  return backupEvents(foldLog(backupEventsAnalyzer, site, log), site);
}

const spans = (events: readonly BackupEvent[]): string[] =>
  events.map(
    ({ start, end, startUncertaintyS, held }) =>
      `${clock(start)} to ${clock(end) ?? 'now'} ±${startUncertaintyS} ${held ? 'held' : 'not held'}`,
  );

/** A unit that is on its own within the spans, else on the grid; sampled every 10 s from its own second on. */
function unit(
  id: string,
  from: string,
  to: string,
  away: readonly (readonly [string, string])[],
  over: Partial<Line> = {},
): Line[] {
  return lines(from, to, 10, (t) => {
    const isAway = away.some(([a, b]) => t >= at(a) && t < at(b));
    return { unit: id, ...(isAway ? BACKUP : GRID), ...(isAway ? over : {}) };
  });
}

describe('backupEvents', () => {
  test('a grid loss begins at the first reading off the grid and ends when the last unit is back', () => {
    const log = [
      ...unit('u1', '09:00:00', '11:00', [['10:00:01', '10:10:01']]),
      ...unit('u2', '09:00:05', '11:00', [['10:00:01', '10:10:01']]),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:05 to 10:10:10 ±5 held']);
  });

  test('a unit that is starting up on the returned grid holds the event open until it is on it', () => {
    const away = (t: number, back: string): object =>
      t < at('10:00') || t >= at(back) ? GRID : t < at('10:10') ? BACKUP : { ...GRID, mode: 'starting' };
    const log = [
      ...lines('09:00', '11:00', 10, (t) => ({ unit: 'u1', ...away(t, '10:11') })),
      ...lines('09:00:05', '11:00', 10, (t) => ({ unit: 'u2', ...away(t, '10:13') })),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:00 to 10:13:05 ±5 held']);
  });

  test('the peak counts a unit that never says whether it is on the grid, as the energy does', () => {
    const log = [
      ...unit('u1', '09:00', '11:00', [['10:00', '10:10']]),
      ...lines('09:00:05', '11:00', 10, () => ({ unit: 'u2', output_power_w: 1000 })),
    ];
    expect(eventsOf(siteOf(), log)[0]).toMatchObject({ peakW: 2000 });
  });

  test('no energy is made up over a trip in which a unit says no more than that it is in fault', () => {
    const trip = (t: number): boolean => t >= at('10:02') && t < at('10:04');
    const log = lines('09:00', '11:00', 10, (t) => {
      const isAway = t >= at('10:00') && t < at('10:10');
      return { unit: 'u1', ...(trip(t) ? { mode: 'fault' } : isAway ? BACKUP : GRID) };
    });
    const [event] = eventsOf(siteOf(), log);
    // 110 s before the trip and 360 s after it at 1,000 W.
    expect(event?.energyWh).toBe(Math.round((1000 * (110 + 360)) / 3600));
  });

  test('a unit alone off the grid while the other stays on it is no event', () => {
    const log = [...unit('u1', '09:00', '11:00', [['10:00', '10:30']]), ...unit('u2', '09:00:05', '11:00', [])];
    expect(eventsOf(siteOf(), log)).toEqual([]);
  });

  test('a true grid loss after one unit was off by itself begins with the loss, and does not wait for that unit', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['09:30', '12:00']]),
      ...unit('u2', '09:00:05', '12:00', [['10:00', '10:20']]),
      ...unit('u3', '09:00:07', '12:00', [['10:00', '10:20']]),
    ];
    const site = siteOf({ units: [{ id: 'u1' }, { id: 'u2' }, { id: 'u3' }] });
    expect(spans(eventsOf(site, log))).toEqual(['10:00:05 to 10:20:07 ±8 held']);
  });

  test('an outage of little more than a sample is found', () => {
    const log = [
      ...unit('u1', '09:00', '11:00', [['10:00:03', '10:00:14']]),
      ...unit('u2', '09:00:02', '11:00', [['10:00:03', '10:00:14']]),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:10 to 10:00:22 ±8 held']);
  });

  test('a sag with the mode on grid is no event', () => {
    const log = lines('09:00', '10:00', 10, (t) => ({
      unit: 'u1',
      ...GRID,
      grid_voltage_v: t === at('09:30') ? 60 : 230,
    }));
    expect(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log)).toEqual([]);
  });

  test('a telemetry gap between readings on the grid is no event', () => {
    const log = [...unit('u1', '09:00', '10:00', []), ...unit('u1', '14:00', '15:00', [])];
    expect(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log)).toEqual([]);
  });

  test('on its own before a gap and after it is one event', () => {
    const log = [
      ...unit('u1', '09:00', '10:00', [['09:50', '10:00']]),
      ...unit('u1', '14:00', '15:00', [['14:00', '14:30']]),
    ];
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log))).toEqual(['09:50:00 to 14:30:00 ±10 held']);
  });

  test('on its own before a gap and on the grid after it ends at the first reading on the grid', () => {
    const both = (from: string, to: string, away: readonly (readonly [string, string])[]): Line[] => [
      ...unit('u1', from, to, away),
      ...unit('u2', from, to, away),
    ];
    const log = [...both('09:00', '10:00', [['09:50', '10:00']]), ...both('14:00', '15:00', [])];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['09:50:00 to 14:00:00 ±10 held']);
  });

  test('on the grid before a gap and on its own after it is as uncertain as the gap is long', () => {
    const log = [...unit('u1', '09:00', '10:00', []), ...unit('u1', '12:00', '13:00', [['12:00', '12:10']])];
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log))).toEqual(['12:00:00 to 12:10:00 ±7210 held']);
  });

  test('a unit that fell silent before the event and returns later does not keep it open', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['10:00', '10:20']]),
      ...unit('u2', '09:00', '09:50', []),
      ...unit('u2', '11:00', '12:00', []),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:00 to 10:20:00 ±10 held']);
  });

  test('a unit alone off the grid makes no event when the other, still on the grid, falls silent', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['10:00', '11:30']]),
      ...unit('u2', '09:00:05', '10:05', []),
      ...unit('u2', '11:00:05', '12:00', []),
    ];
    expect(eventsOf(siteOf(), log)).toEqual([]);
  });

  test('a unit whose clock is two minutes late leaves with the others', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['10:00', '10:30']]),
      ...unit('u2', '09:00', '12:00', [['10:02', '10:32']]),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:00 to 10:32:00 ±10 held']);
  });

  test('a unit that falls silent during the event does not keep it open', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['10:00', '10:20']]),
      ...unit('u2', '09:00', '10:10', [['10:00', '10:20']]),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:00 to 10:20:00 ±10 held']);
  });

  test('a unit that stays off long after the others are back does not keep it open', () => {
    const log = [
      ...unit('u1', '09:00', '12:00', [['10:00', '10:20']]),
      ...unit('u2', '09:00', '12:00', [['10:00', '12:00']]),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['10:00:00 to 10:20:00 ±10 held']);
  });

  test('a grid loss that lasts has no end, across midnight', () => {
    const log = unit('u1', '23:00', '+1 01:00', [['23:30', '+1 01:00']]);
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log))).toEqual(['23:30:00 to now ±10 held']);
  });

  test('where the mode is absent the grid voltage under half of nominal decides', () => {
    const log = lines('09:00', '10:00', 10, (t) => ({
      unit: 'u1',
      grid_voltage_v: t >= at('09:30') && t < at('09:40') ? 114 : 116,
      output_voltage_v: 230,
    }));
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log))).toEqual(['09:30:00 to 09:40:00 ±10 held']);
  });

  test('a unit of three phases is off the grid when the mean of its phases is under half', () => {
    const log = lines('09:00', '10:00', 10, (t) => {
      const isGone = t >= at('09:30') && t < at('09:40');
      return {
        unit: 'u1',
        grid_voltage_l1_v: isGone ? 0 : 230,
        grid_voltage_l2_v: isGone ? 2 : 0,
        grid_voltage_l3_v: isGone ? 1 : 229,
      };
    });
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1', phase: 'three' }] }), log))).toEqual([
      '09:30:00 to 09:40:00 ±10 held',
    ]);
  });

  test('a generator neither starts nor ends an event', () => {
    const log = lines('09:00', '10:00', 10, (t) => {
      if (t < at('09:10') || t >= at('09:50')) return { unit: 'u1', ...GRID };
      return { unit: 'u1', ...BACKUP, mode: t < at('09:20') || t >= at('09:40') ? 'backup' : 'generator' };
    });
    expect(spans(eventsOf(siteOf({ units: [{ id: 'u1' }] }), log))).toEqual(['09:10:00 to 09:50:00 ±10 held']);
  });

  test('energy is the trapezoid over the readings inside, the peak is of the sum, charge is of the bank', () => {
    const log = [
      ...unit('u1', '09:00', '11:00', [['10:00', '10:30']], { output_power_w: 1200 }),
      ...unit('u2', '09:00', '11:00', [['10:00', '10:30']], { output_power_w: 800 }),
      ...lines('09:00', '11:00', 60, (t) => ({
        bank: 'bank',
        bank_soc_pct: t < at('10:00') ? 92 : t <= at('10:30') ? 61 : 70,
      })),
    ];
    const [event] = eventsOf(siteOf(), log);
    expect(event).toMatchObject({
      peakW: 2000,
      socStartPct: 61,
      socEndPct: 61,
      frequencyMinHz: 49.97,
      voltageMaxV: 229,
    });
    expect(event!.energyWh).toBeGreaterThanOrEqual(999);
    expect(event!.energyWh).toBeLessThanOrEqual(1001);
    expect(event!.units).toEqual({ u1: { energyWh: 600 }, u2: { energyWh: 400 } });
  });

  test('no energy is made up over a gap', () => {
    const log = [
      ...unit('u1', '09:00', '10:00', [['09:50', '10:00']]),
      ...unit('u1', '14:00', '15:00', [['14:00', '14:10']]),
    ];
    const [event] = eventsOf(siteOf({ units: [{ id: 'u1' }] }), log);
    expect(event!.energyWh).toBe(Math.round((1000 * (590 + 600)) / 3600));
  });

  test('packs are weighted by capacity where there is no bank', () => {
    const log = [
      ...unit('u1', '09:00', '10:00', [['09:30', '09:40']]),
      ...lines('09:00', '10:00', 10, () => ({ pack: 'p1', soc_pct: 80 })),
      ...lines('09:00', '10:00', 10, () => ({ pack: 'p2', soc_pct: 70 })),
    ];
    const [event] = eventsOf(siteOf({ units: [{ id: 'u1' }], packs: ['p1', 'p2'] }), log);
    expect(event).toMatchObject({ socStartPct: 75, socEndPct: 75 });
  });

  test('held is false where voltage, frequency or the output itself was lost, and lost output is no extreme', () => {
    const dip = (values: Partial<Line>): Line[] =>
      lines('09:00', '10:00', 10, (t) => {
        if (t < at('09:10') || t >= at('09:50')) return { unit: 'u1', ...GRID };
        return { unit: 'u1', ...BACKUP, ...(t >= at('09:20') && t < at('09:21') ? values : {}) };
      });
    const site = siteOf({ units: [{ id: 'u1' }] });
    expect(eventsOf(site, dip({ output_frequency_hz: 48.9 }))[0]).toMatchObject({ held: false, frequencyMinHz: 48.9 });
    expect(eventsOf(site, dip({ output_voltage_v: 206.9 }))[0]).toMatchObject({ held: false, voltageMinV: 206.9 });
    expect(eventsOf(site, dip({ output_voltage_v: 207 }))[0]).toMatchObject({ held: true, voltageMinV: 207 });
    expect(eventsOf(site, dip({ mode: 'fault', output_voltage_v: 0, output_frequency_hz: 0 }))[0]).toMatchObject({
      held: false,
      outputLostS: 60,
      voltageMinV: 229,
      frequencyMinHz: 49.97,
    });
  });

  test('held is not false because of one unit that starts up or drops out while another carries the bus', () => {
    const log = [
      ...unit('u1', '09:00', '10:00', [['09:10', '09:50']]),
      ...lines('09:00', '10:00', 10, (t) => {
        if (t < at('09:10') || t >= at('09:50')) return { unit: 'u2', ...GRID };
        if (t < at('09:11'))
          return { unit: 'u2', mode: 'starting', grid_voltage_v: 0, output_voltage_v: 100, output_frequency_hz: 30 };
        if (t < at('09:20')) return { unit: 'u2', mode: 'fault', grid_voltage_v: 0, output_voltage_v: 0 };
        return { unit: 'u2', ...BACKUP };
      }),
    ];
    expect(eventsOf(siteOf(), log)[0]).toMatchObject({
      held: true,
      outputLostS: 0,
      voltageMinV: 229,
      frequencyMinHz: 49.97,
    });
  });

  test('a unit on standby that sees the grid does not hold the event open', () => {
    const log = [
      ...unit('u1', '09:00', '10:00', [['09:10', '09:30']]),
      ...lines('09:00', '10:00', 10, (t) => {
        if (t < at('09:10')) return { unit: 'u2', ...GRID };
        return t < at('09:30') ? { unit: 'u2', ...BACKUP } : { unit: 'u2', mode: 'standby', grid_voltage_v: 230 };
      }),
    ];
    expect(spans(eventsOf(siteOf(), log))).toEqual(['09:10:00 to 09:30:00 ±10 held']);
  });

  test('a calm day and a walked day leave the same behind', () => {
    const quiet = unit('u1', '09:00', '23:59:55', []);
    const next = unit('u1', '+1 00:00', '+1 01:00', [['+1 00:00', '+1 00:10']]);
    const busy = unit('u1', '09:00', '23:59:55', [['09:20', '09:30']]);
    const site = siteOf({ units: [{ id: 'u1' }] });
    expect(eventsOf(site, [...quiet, ...next])).toEqual(eventsOf(site, [...busy, ...next]).slice(1));
  });
});
