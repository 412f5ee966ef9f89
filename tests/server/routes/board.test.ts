import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { eventsCommand } from '../../../ingest/commands/events.ts';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { readingsCommand } from '../../../ingest/commands/readings.ts';
import { eventAnswerSchema, eventsAnswerSchema, listedEventSchema } from '../../../server/contract/event.ts';
import { shareAnswerSchema } from '../../../server/contract/figure.ts';
import { findingsAnswerSchema } from '../../../server/contract/finding.ts';
import { fleetAnswerSchema } from '../../../server/contract/fleet.ts';
import { API_ROUTES, apiPath } from '../../../server/contract/paths.ts';
import { problemSchema } from '../../../server/contract/problem.ts';
import { readFleet } from '../../../server/contract/read-fleet.ts';
import { seriesAnswerSchema } from '../../../server/contract/series.ts';
import { findingAnswerSchema, siteAnswerSchema } from '../../../server/contract/site.ts';
import { trustAnswerSchema } from '../../../server/contract/trust.ts';
import { at, dropFolder, millpondLines, parsed, run, storeLines } from '../../ingest/commands/_stored.ts';
import { judge, openBoard, openHouse } from '../_board.ts';

let folder = '';
let house: ReturnType<typeof openHouse>;
let board: ReturnType<typeof openBoard>;
beforeAll(() => {
  folder = storeLines(millpondLines());
  judge(folder);
  house = openHouse(folder);
  board = openBoard(house);
});
afterAll(() => {
  board.close();
  house.close();
  dropFolder(folder);
});

const json = async (path: string): Promise<unknown> => {
  const response = await board.ask(path);
  expect(response.status, path).toBe(200);
  return response.json();
};
const millpond = { site: 'millpond' };

describe('routes', () => {
  test('every answer is as the contract says', async () => {
    fleetAnswerSchema.parse(await json(apiPath('fleet', {})));
    siteAnswerSchema.parse(await json(apiPath('site', millpond)));
    shareAnswerSchema.parse(await json(apiPath('share', millpond)));
    trustAnswerSchema.parse(await json(apiPath('trust', millpond)));
    const { events } = eventsAnswerSchema.parse(await json(apiPath('events', {})));
    const { findings } = findingsAnswerSchema.parse(await json(apiPath('findings', {}, { state: 'all' })));
    expect([events.length, findings.length > 1]).toEqual([1, true]);
    eventAnswerSchema.parse(await json(apiPath('event', { ...millpond, start: '2026-03-10T02:00:00Z' })));
    for (const { id } of findings) findingAnswerSchema.parse(await json(apiPath('finding', { id })));
    const asked = { of: 'unit/u1/output_power_w', from: at('10T00:00:00'), to: at('10T08:00:00') };
    seriesAnswerSchema.parse(await json(apiPath('series', millpond, asked)));
  });

  test('the fleet says of a site what its stores say', async () => {
    const fleet = readFleet(fleetAnswerSchema.parse(await json(apiPath('fleet', {}))));
    expect(fleet.rows).toHaveLength(1);
    const [row] = fleet.rows;
    expect(row).toMatchObject({
      site: 'millpond',
      name: 'Millpond Clinic',
      group: 'valley-north',
      zone: 'Europe/Lisbon',
      ratingsW: [8000, 8000],
      chargePct: [80, 80],
      reservePct: 20,
      deviation: null,
      events: [{ start: at('10T02:00:00'), lengthMs: 3_600_000, held: true, outputLostS: 0, occasion: 'unknown' }],
    });
    expect(row!.heardAt).toBe(at('10T07:59:03') - 0);
    expect(row!.worst?.kind).toBe('settings_mismatch');
    expect(row!.worst?.evidence.battery_type).toEqual(expect.arrayContaining(['u2 lead']));
  });

  test('the same findings and events as the command line, figure for figure', async () => {
    const { findings } = findingsAnswerSchema.parse(await json(apiPath('findings', {}, { state: 'all' })));
    const told = parsed(await run([findingsCommand], ['findings', '--data', folder, '--json']));
    const byKey = (rows: readonly Record<string, unknown>[]) =>
      [...rows].sort((a, b) => (JSON.stringify(a) < JSON.stringify(b) ? -1 : 1));
    const iso = (t: number | null): string | null => (t === null ? null : new Date(t).toISOString());
    const asTold = findings.map(({ id, siteName, zone, group, detectedAt, start, end, ...same }) => ({
      ...same,
      start: iso(start),
      end: iso(end),
      detected_at: iso(detectedAt),
    }));
    const plain = (rows: readonly unknown[]): Record<string, unknown>[] =>
      rows.map((row) => Object.fromEntries(Object.entries(row as object).sort()));
    expect(byKey(plain(asTold))).toEqual(byKey(plain(told)));
    const { events } = eventsAnswerSchema.parse(await json(apiPath('events', {})));
    const toldEvents = parsed(await run([eventsCommand], ['events', '--data', folder, '--json']));
    expect(
      events.map(({ start, energyWh, peakW, socStartPct, held }) => [
        iso(start),
        Math.round(energyWh!),
        peakW,
        socStartPct,
        held,
      ]),
    ).toEqual(toldEvents.map((e) => [e.start, e.energy_wh, e.peak_w, e.soc_start_pct, e.held]));
  });

  test('the CSV of a window is what the command line prints', async () => {
    const [from, to] = [at('10T01:00:00'), at('10T03:00:00')];
    for (const everyMs of [undefined, 900_000]) {
      const csv = await board.ask(apiPath('readingsCsv', millpond, { source: 'unit/u1', from, to, everyMs }));
      expect(csv.headers.get('Content-Type')).toContain('text/csv');
      const asked = ['--from', '2026-03-10T01:00:00Z', '--to', '2026-03-10T03:00:00Z'];
      const every = everyMs === undefined ? [] : ['--every', '15m'];
      const told = await run(
        [readingsCommand],
        ['readings', '--data', folder, '--site', 'millpond', '--unit', 'u1', '--csv', ...asked, ...every],
      );
      expect((await csv.text()).trimEnd().split('\n')).toEqual(told.out);
      expect(told.out.length).toBeGreaterThan(8);
    }
  });

  test('settings in force and changed', async () => {
    const { settings, settingChanges, sources } = siteAnswerSchema.parse(await json(apiPath('site', millpond)));
    expect(settingChanges).toEqual([
      { unit: 'u2', key: 'battery_type', t: at('10T01:00:00'), from: 'lithium', to: 'lead' },
    ]);
    expect(settings).toContainEqual({
      unit: 'u2',
      key: 'battery_type',
      value: 'lead',
      since: at('10T01:00:00'),
      heardAt: at('10T01:00:00'),
    });
    expect(sources.find(({ id }) => id === 'u9')?.isRecorded).toBe(false);
  });

  test('what can be trusted: the gap of u2, and the unit that no record names', async () => {
    const trust = trustAnswerSchema.parse(await json(apiPath('trust', millpond)));
    const u2 = trust.sources.find(({ kind, id }) => kind === 'unit' && id === 'u2')!;
    expect(u2.gaps).toContainEqual({ from: at('10T04:59:00'), to: at('10T06:00:00') });
    expect(u2.isRecorded).toBe(true);
    expect(trust.sources.find(({ id }) => id === 'u9')).toMatchObject({
      isRecorded: false,
      readings: 1,
      expected: null,
    });
    expect(trust.silences.map(({ kind, subject }) => [kind, subject])).toContainEqual(['unit_silent', 'u2']);
  });
});

describe('errors', () => {
  const problem = async (path: string, init?: RequestInit) => {
    const response = await board.ask(path, init);
    return { status: response.status, ...problemSchema.parse(await response.json()) };
  };

  test('an unknown site, event, finding and address are 404 in one shape', async () => {
    expect(await problem('/api/sites/nowhere')).toMatchObject({ status: 404, id: 'no_such_site' });
    expect(await problem('/api/sites/millpond/events/2026-03-10T09:00:00Z')).toMatchObject({
      status: 404,
      id: 'no_such_event',
    });
    expect(await problem('/api/findings/millpond.share_drift.u1.20260310T000000.000Z')).toMatchObject({
      status: 404,
      id: 'no_such_finding',
    });
    expect(await problem('/api/nothing')).toMatchObject({ status: 404, id: 'no_such_route' });
    // A site that is heard but in no record has no page.
    expect(await problem('/api/sites/sawpit')).toMatchObject({ status: 404, id: 'no_such_site' });
  });

  test('a mistake in the query names its place and what to write', async () => {
    const of = await problem('/api/sites/millpond/series?of=nonsense&from=0&to=1');
    expect(of).toMatchObject({ status: 400, id: 'bad_request' });
    expect(of.where).toContain('of');
    expect(of.what).toContain('unit/u1/output_power_w');
    expect(await problem('/api/sites/millpond/series?of=unit/u1/soc_pct&from=0&to=1')).toMatchObject({ status: 400 });
    expect((await problem('/api/sites/millpond/series?of=unit/u1/load_pct&from=5&to=1')).where).toContain('to');
    expect(await problem('/api/findings?kind=noise')).toMatchObject({ status: 400 });
    expect(await problem('/api/findings?cursor=gone')).toMatchObject({ status: 400 });
  });

  test('an error that nobody expected tells nothing of the inside, and is reported', async () => {
    const failing = openBoard({
      ...house,
      readings: {
        ...house.readings,
        sources: () => {
          throw new RangeError('secret of the inside');
        },
      },
    });
    const response = await failing.ask('/api/sites/millpond');
    const body = await response.text();
    expect([response.status, JSON.parse(body).id]).toEqual([500, 'unexpected']);
    expect(body).not.toContain('secret');
    expect(String(failing.reports[0])).toContain('secret of the inside');
    failing.close();
  });
});

describe('marks', () => {
  const mark = (body: unknown, headers: Record<string, string> = {}) =>
    board.ask('/api/sites/millpond/events/2026-03-10T02:00:00Z/mark', {
      method: 'PUT',
      body: JSON.stringify(body),
      headers: { 'Content-Type': 'application/json', ...headers },
    });

  test('a person says what an event was, and every answer says so', async () => {
    const before = await board.ask('/api/events');
    const response = await mark({ occasion: 'test', by: '  Joss ' });
    expect(response.status).toBe(200);
    expect(listedEventSchema.parse(await response.json())).toMatchObject({
      occasion: 'test',
      mark: { occasion: 'test', by: 'Joss' },
      siteName: 'Millpond Clinic',
    });
    const { events } = eventsAnswerSchema.parse(await json('/api/events'));
    expect(events[0]!.occasion).toBe('test');
    expect(readFleet(fleetAnswerSchema.parse(await json('/api/fleet'))).rows[0]!.events[0]!.occasion).toBe('test');
    // What was known before is no longer the same answer.
    const again = await board.ask('/api/events', { headers: { 'If-None-Match': before.headers.get('ETag')! } });
    expect(again.status).toBe(200);
    await mark({ occasion: 'grid_loss', by: 'Tova' });
    expect(eventsAnswerSchema.parse(await json('/api/events')).events[0]!.mark).toMatchObject({ by: 'Tova' });
  });

  test('not from another origin, not without a name, and as JSON only', async () => {
    expect((await mark({ occasion: 'test', by: 'x' }, { Origin: 'https://elsewhere.example' })).status).toBe(403);
    expect((await mark({ occasion: 'test', by: 'x' }, { 'Sec-Fetch-Site': 'cross-site' })).status).toBe(403);
    expect((await mark({ occasion: 'test', by: 'x' }, { 'Content-Type': 'text/plain' })).status).toBe(403);
    expect((await mark({ occasion: 'test', by: ' ' })).status).toBe(400);
    expect((await mark({ occasion: 'party', by: 'x' })).status).toBe(400);
    expect(
      (await mark({ occasion: 'test', by: 'x' }, { Origin: 'http://localhost', 'Sec-Fetch-Site': 'same-origin' }))
        .status,
    ).toBe(200);
  });
});

describe('the app', () => {
  test('an answer that is known is not sent again, and compressed where that is asked for', async () => {
    const first = await board.ask('/api/fleet', { headers: { 'Accept-Encoding': 'gzip' } });
    expect(first.headers.get('Content-Encoding')).toBe('gzip');
    const etag = first.headers.get('ETag')!;
    expect(etag).toMatch(/^W\/"test\./);
    const second = await board.ask('/api/fleet', { headers: { 'If-None-Match': etag } });
    expect([second.status, await second.text()]).toEqual([304, '']);
  });

  test('every answer carries a strict content policy', async () => {
    for (const path of ['/api/fleet', '/healthz', '/nowhere']) {
      const { headers } = await board.ask(path);
      const policy = headers.get('Content-Security-Policy')!;
      expect(policy).toContain("default-src 'none'");
      expect(policy).not.toContain('unsafe');
      expect(headers.get('X-Content-Type-Options')).toBe('nosniff');
    }
  });

  test('the API description is OpenAPI 3.1 and holds every route of the table', async () => {
    const description = (await json('/api/openapi.json')) as { openapi: string; paths: Record<string, object> };
    expect(description.openapi).toMatch(/^3\.1/);
    const described = Object.keys(description.paths);
    for (const { path, method } of Object.values(API_ROUTES)) {
      if (path === API_ROUTES.openapi.path) continue;
      const name = path.replaceAll(/:([a-z]+)/g, '{$1}');
      expect(described).toContain(name);
      expect(Object.keys(description.paths[name]!)).toContain(method.toLowerCase());
    }
    expect(JSON.stringify(description.paths['/api/fleet'])).toContain('heardAgeS');
  });

  test('alive, ready, and figures for whoever watches', async () => {
    expect(await json('/healthz')).toEqual({ alive: true });
    expect(await json('/readyz')).toMatchObject({ ready: true });
    const text = await (await board.ask('/metrics')).text();
    expect(text).toMatch(/kilter_sites 1\n/);
    expect(text).toMatch(/kilter_open_findings\{severity="soon"\} \d/);
    expect(text).toMatch(/kilter_http_requests_total\{method="GET",route="\/api\/fleet",status="200"\} \d/);
  });

  test('pages of a list: every row once', async () => {
    const seen: string[] = [];
    let cursor: string | undefined;
    do {
      const page = findingsAnswerSchema.parse(await json(apiPath('findings', {}, { state: 'all', limit: 1, cursor })));
      seen.push(...page.findings.map(({ id }) => id));
      cursor = page.next ?? undefined;
      expect(seen.length).toBeLessThanOrEqual(page.total);
    } while (cursor !== undefined);
    const all = findingsAnswerSchema.parse(await json(apiPath('findings', {}, { state: 'all' })));
    expect(seen).toEqual(all.findings.map(({ id }) => id));
  });

  test('a name that is not ours is refused: a page of elsewhere may not read through it', async () => {
    const strict = openBoard(house, { isKnownHost: (host) => host.startsWith('localhost') });
    expect((await strict.ask('/api/fleet', { headers: { Host: 'rebound.example' } })).status).toBe(403);
    expect((await strict.ask('/api/fleet', { headers: { Host: 'localhost:8090' } })).status).toBe(200);
    strict.close();
  });
});

describe('the token', () => {
  test('is asked for on every route, and taken as bearer or from a cookie set once', async () => {
    const guarded = openBoard(house, { token: 'long-random-text' });
    expect((await guarded.ask('/api/fleet')).status).toBe(401);
    expect((await guarded.ask('/metrics')).status).toBe(401);
    expect((await guarded.ask('/')).status).toBe(401);
    expect((await guarded.ask('/?token=wrong')).status).toBe(401);
    expect((await guarded.ask('/healthz')).status).toBe(200);
    const bearer = { Authorization: 'Bearer long-random-text' };
    expect((await guarded.ask('/api/fleet', { headers: bearer })).status).toBe(200);
    const opened = await guarded.ask('/?token=long-random-text');
    expect([opened.status, opened.headers.get('Location')]).toEqual([303, '/']);
    const cookie = opened.headers.get('Set-Cookie')!;
    expect(cookie).toMatch(/HttpOnly/);
    expect(cookie).toMatch(/SameSite=Strict/);
    expect(cookie).not.toContain('long-random-text');
    expect((await guarded.ask('/api/fleet', { headers: { Cookie: cookie.split(';')[0]! } })).status).toBe(200);
    guarded.close();
  });
});
