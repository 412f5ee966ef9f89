import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { eventJson } from '../../../ingest/commands/event-json.ts';
import { eventsCommand } from '../../../ingest/commands/events.ts';
import type { BackupEvent } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { dropFolder, millpondLines, parsed, run, storeLines } from './_stored.ts';

/** The example of the contract, key by key. */
const EXAMPLE =
  '{"site":"millpond","start":"2026-03-10T02:00:00.000Z","end":"2026-03-10T04:01:00.000Z","duration_s":7260,' +
  '"start_uncertainty_s":10,"held":true,"output_lost_s":0,"occasion":"unknown","energy_wh":5120,"peak_w":4300,' +
  '"soc_start_pct":92,"soc_end_pct":61,"frequency_min_hz":49.97,"frequency_max_hz":50.04,"voltage_min_v":228.9,' +
  '"voltage_max_v":231,"units":{"u1":{"energy_wh":2600},"u2":{"energy_wh":2520}}}';

const EVENT: BackupEvent = {
  site: 'millpond',
  start: epochMs(Date.parse('2026-03-10T02:00:00Z')),
  end: epochMs(Date.parse('2026-03-10T04:01:00Z')),
  startUncertaintyS: 10,
  held: true,
  outputLostS: 0,
  occasion: 'unknown',
  energyWh: 5120.4,
  peakW: 4299.6,
  socStartPct: 92.04,
  socEndPct: 61,
  frequencyMinHz: 49.9749,
  frequencyMaxHz: 50.04,
  voltageMinV: 228.9,
  voltageMaxV: 231,
  units: { u1: { energyWh: 2600 }, u2: { energyWh: 2519.6 } },
};

describe('eventJson', () => {
  test('prints the example of the contract, rounded to what is kept of each quantity', () => {
    expect(JSON.stringify(eventJson({ ...EVENT, frequencyMinHz: 49.9701 }))).toBe(EXAMPLE);
  });

  test('leaves the end and the duration null while it lasts', () => {
    expect(eventJson({ ...EVENT, end: null })).toMatchObject({ end: null, duration_s: null });
  });

  test('keeps an unknown figure null, never zero', () => {
    const unknown = eventJson({ ...EVENT, energyWh: null, units: { u1: { energyWh: null } } });
    expect(unknown).toMatchObject({ energy_wh: null, units: { u1: { energy_wh: null } } });
  });
});

describe('kilter events', () => {
  let folder = '';
  const events = (...args: string[]) => run([eventsCommand], ['events', '--data', folder, ...args]);
  beforeAll(() => {
    folder = storeLines(millpondLines());
  });
  afterAll(() => dropFolder(folder));

  test('prints a grid loss of an hour as one object', async () => {
    const ran = await events('--json');
    const [event, ...more] = parsed(ran);
    expect(more).toEqual([]);
    expect(Object.keys(event!)).toEqual(Object.keys(JSON.parse(EXAMPLE)));
    expect(event).toMatchObject({
      site: 'millpond',
      start: '2026-03-10T02:00:00.000Z',
      end: '2026-03-10T03:00:00.000Z',
      duration_s: 3600,
      start_uncertainty_s: 60,
      held: true,
      occasion: 'unknown',
      soc_start_pct: 80,
    });
    expect(ran.err[0]).toBe("Looked at 1 site: 1 grid loss, 0 of them not held. Times are in each site's zone.");
  });

  test('is empty before the grid was lost, and open while it lasts', async () => {
    expect((await events('--json', '--as-of', '2026-03-10T01:30:00Z')).out).toEqual([]);
    expect(parsed(await events('--json', '--as-of', '2026-03-10T02:30:00Z'))).toMatchObject([{ end: null }]);
  });

  test('shows a table whose columns fit the terminal', async () => {
    const wide = await run([eventsCommand], ['events', '--data', folder], 200);
    expect(wide.out[0]).toMatch(/^Site +Began +Lasted +Output +kWh +Peak W +Charge % +Hz +V +Occasion$/);
    expect(wide.out[1]).toMatch(/^millpond +2026-03-10 02:00 \+00:00 +1 h +held/);
    const narrow = await run([eventsCommand], ['events', '--data', folder], 60);
    expect(narrow.out.slice(0, 2).every((line) => line.length <= 60)).toBe(true);
    expect(narrow.out[0]).toMatch(/^Site +Began +Lasted +Output/);
  });
});
