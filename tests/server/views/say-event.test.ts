import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import type { EventAnswer } from '../../../server/contract/event.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { eventMargins, timeLeftMs } from '../../../server/views/event-margins.ts';
import { eventLog, sayEvent, sayMark } from '../../../server/views/say-event.ts';
import { MILLPOND } from '../../ingest/site/millpond.ts';

const at = (text: string): number => Date.parse(text);
const saying = { words: ENGLISH, zone: 'Europe/Lisbon', now: at('2026-04-14T06:40:00Z') };
const record = checkSites([{ file: 'sites.yaml', text: MILLPOND }]).documents[0]!;
const plain = (text: string): string => text.replaceAll('\u00a0', ' ');

const event: EventAnswer['event'] = {
  site: 'millpond',
  start: at('2026-04-12T17:52:00Z'),
  end: at('2026-04-12T19:53:00Z'),
  startUncertaintyS: 10,
  held: false,
  outputLostS: 0,
  occasion: 'unknown',
  mark: null,
  energyWh: 7050,
  peakW: 15_230,
  socStartPct: 92,
  socEndPct: 55,
  frequencyMinHz: 48.71,
  frequencyMaxHz: 50.04,
  voltageMinV: 224.3,
  voltageMaxV: 231,
  units: { u1: { energyWh: 3940 }, u2: { energyWh: 3110 } },
};
const excursion: EventAnswer['findings'][number] = {
  id: 'x',
  site: 'millpond',
  kind: 'frequency_excursion',
  subject: 'site',
  start: at('2026-04-12T18:34:00Z'),
  detectedAt: at('2026-04-12T18:34:10Z'),
  end: at('2026-04-12T18:34:50Z'),
  severity: 'soon',
  measure: 'output frequency',
  value: 48.71,
  baseline: 50,
  limit: 49,
  causes: [{ cause: 'overload', weight: 0.94 }],
  evidence: { direction: 'low', outside_s: 50 },
};
const answer: EventAnswer = {
  change: 1,
  people: 0,
  now: saying.now,
  record,
  event,
  window: { from: event.start, to: event.end! },
  unitPeaks: [
    { unit: 'u1', ratedW: 8000, peakW: 8540, peakAt: at('2026-04-12T18:34:10Z'), aboveRatingS: 70 },
    { unit: 'u2', ratedW: 8000, peakW: 6690, peakAt: at('2026-04-12T18:34:10Z'), aboveRatingS: 0 },
  ],
  frequencyLow: { value: 48.71, at: at('2026-04-12T18:34:50Z'), outsideS: 50 },
  frequencyHigh: { value: 50.04, at: null, outsideS: 0 },
  voltageLow: { value: 224.3, at: null, outsideS: 0 },
  voltageHigh: { value: 231, at: null, outsideS: 0 },
  findings: [excursion],
  before: null,
  after: null,
};

describe('sayEvent', () => {
  test('held, left its band, lost, lasting: one sentence each', () => {
    const say = (change: Partial<EventAnswer['event']>, findings: EventAnswer['findings'] = []): string =>
      plain(sayEvent({ ...event, ...change }, findings, saying));
    expect(say({ held: true })).toBe('Power stayed on for 2 h 1 min without the grid.');
    expect(say({}, [excursion])).toBe(
      'Power stayed on for 2 h 1 min, but left its band once: at 19:34 the frequency fell to 48.71 Hz while the set was overloaded.',
    );
    expect(say({ outputLostS: 250 })).toBe('Output was lost for 4 min 10 s on Sunday.');
    expect(say({ end: null, held: true })).toBe('The site has been on its own since Sunday 18:52, and power is on.');
  });

  test('a mark says who said what', () => {
    expect(sayMark({ mark: null }, saying)).toBeNull();
    const mark = { occasion: 'test', by: 'Joss', at: saying.now - 86_400_000 } as const;
    expect(sayMark({ mark }, saying)).toBe('test, said Joss yesterday');
  });

  test('the log is in order and says each figure once', () => {
    const lines = eventLog(answer, saying).map(({ text }) => plain(text));
    expect(lines).toEqual([
      'The grid was lost (±10 s); charge 92 %.',
      expect.stringContaining('the frequency fell to 48.71 Hz'),
      'u1 carried 8.54 kW, 107 % of its rating; past it for 70 s.',
      'The set was back on the grid. 7.05 kWh delivered: u1 3.94 kWh, u2 3.11 kWh. Charge 55 %.',
    ]);
  });
});

describe('eventMargins', () => {
  test('time left is the charge above the reserve at the rate of the event', () => {
    // derived: 37 points in 121 min; 35 points are left above 20 %: 35/37 · 121 min = 114.5 min.
    expect(Math.round(timeLeftMs(answer)! / 60_000)).toBe(114);
    expect(timeLeftMs({ ...answer, event: { ...event, socEndPct: 91 } })).toBeNull();
    expect(timeLeftMs({ ...answer, event: { ...event, socStartPct: null } })).toBeNull();
  });

  test('the time left first, then the closest', () => {
    const margins = eventMargins(answer, saying).map(({ label, figure, isBeyond }) => [label, plain(figure), isBeyond]);
    expect(margins[0]).toEqual(['Time left at that load', '1 h 54 min', false]);
    expect(margins[1]).toEqual(['Lowest frequency', '48.71 Hz', true]);
    expect(margins[2]).toEqual(['Peak of u1', '8.54 kW', true]);
    expect(margins).toContainEqual(['Charge', '92 to 55 %', false]);
  });

  test('what is not known has no margin, and is never zero', () => {
    const nothing = { value: null, at: null, outsideS: 0 };
    const unknown: EventAnswer = {
      ...answer,
      event: { ...event, peakW: null, socStartPct: null, socEndPct: null, energyWh: null },
      unitPeaks: [],
      frequencyLow: nothing,
      frequencyHigh: nothing,
      voltageLow: nothing,
      voltageHigh: nothing,
    };
    expect(eventMargins(unknown, saying).map(({ figure }) => figure)).toEqual(['–']);
  });
});
