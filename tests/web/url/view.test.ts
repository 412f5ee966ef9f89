import { describe, expect, test } from 'vitest';
import { clockOf, pathOf, type View, viewOf } from '../../../web/url/view.ts';

const START = Date.UTC(2026, 3, 12, 17, 52, 0);
const WINDOW = { from: START, to: START + 3_600_000 };
const FINDING = 'millpond.share_drift.u2.20260330T162000.000Z';

/** Every kind of view there is, with all that may stand in it. */
const VIEWS: readonly View[] = [
  { page: 'fleet' },
  { page: 'fleet', filter: 'u2 silent', group: 'valley north' },
  { page: 'alerts' },
  { page: 'alerts', filter: 'clinic', group: 'valley', state: 'ended' },
  { page: 'events' },
  { page: 'events', filter: 'lost', site: 'millpond' },
  { page: 'site', site: 'millpond' },
  { page: 'site', site: 'millpond', unit: 'u2', window: WINDOW },
  { page: 'site', site: 'millpond', window: WINDOW, readings: ['unit/u1/output_power_w', 'pack/p1/soc_pct'] },
  { page: 'event', site: 'millpond', start: START },
  { page: 'event', site: 'millpond', start: START, window: WINDOW },
  { page: 'finding', id: FINDING },
  { page: 'finding', id: FINDING, window: WINDOW },
  { page: 'trust', site: 'millpond' },
  { page: 'sources' },
  { page: 'demo' },
];

describe('pathOf', () => {
  test('gives every view one address', () => {
    expect(VIEWS.map((view) => pathOf(view))).toMatchInlineSnapshot(`
      [
        "/",
        "/?q=u2+silent&group=valley+north",
        "/alerts",
        "/alerts?q=clinic&group=valley&state=ended",
        "/events",
        "/events?q=lost&site=millpond",
        "/sites/millpond",
        "/sites/millpond?unit=u2&from=2026-04-12T17:52:00Z&to=2026-04-12T18:52:00Z",
        "/sites/millpond?readings=unit/u1/output_power_w,pack/p1/soc_pct&from=2026-04-12T17:52:00Z&to=2026-04-12T18:52:00Z",
        "/sites/millpond/events/2026-04-12T17:52:00Z",
        "/sites/millpond/events/2026-04-12T17:52:00Z?from=2026-04-12T17:52:00Z&to=2026-04-12T18:52:00Z",
        "/findings/millpond/share_drift/u2/20260330T162000000Z",
        "/findings/millpond/share_drift/u2/20260330T162000000Z?from=2026-04-12T17:52:00Z&to=2026-04-12T18:52:00Z",
        "/sites/millpond/data",
        "/sources",
        "/demo",
      ]
    `);
  });
  test('keeps the clock of the reader beside what the view says', () => {
    expect(pathOf({ page: 'fleet', filter: 'a&b' }, { utc: true })).toBe('/?q=a%26b&time=utc');
    expect(clockOf('/sites/millpond?time=utc')).toEqual({ utc: true });
    expect(clockOf('/sites/millpond')).toEqual({ utc: false });
  });
});

describe('viewOf', () => {
  test.each(VIEWS.map((view) => [pathOf(view), view] as const))(
    'reads %s back as the view it was made of',
    (path, view) => {
      expect(viewOf(path)).toEqual(view);
    },
  );
  test('drops a window that is none, and keeps the page', () => {
    expect(viewOf('/sites/millpond?from=2026-04-12T17:52:00Z&to=2026-04-12T17:52:00Z')).toEqual({
      page: 'site',
      site: 'millpond',
    });
    expect(viewOf('/sites/millpond?from=yesterday&to=2026-04-12T17:52:00Z')).toEqual({
      page: 'site',
      site: 'millpond',
    });
  });
  test('drops a reading that no route would take', () => {
    expect(viewOf('/sites/millpond?readings=unit/u1/output_power_w,../etc')).toEqual({
      page: 'site',
      site: 'millpond',
      readings: ['unit/u1/output_power_w'],
    });
  });
  test.each(['/nothing', '/sites', '/findings', '/sites/millpond/events/noon', '/sites/millpond/other'])(
    'says that %s is nowhere',
    (path) => {
      expect(viewOf(path)).toEqual({ page: 'nowhere' });
    },
  );
});
