/** What the pages say equals what the command line says, figure for figure, on a simulated fleet. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Command } from '../../../ingest/commands/command.ts';
import { eventsCommand } from '../../../ingest/commands/events.ts';
import { findingsCommand } from '../../../ingest/commands/findings.ts';
import { readingsCommand } from '../../../ingest/commands/readings.ts';
import { sqlCommand } from '../../../ingest/commands/sql.ts';
import { DAY_MS, HOUR_MS } from '../../../ingest/vocabulary/time.ts';
import type { Answer } from '../../../server/contract/api-types.ts';
import type { SayableEvent } from '../../../server/contract/event.ts';
import type { ApiFinding, SayableFinding } from '../../../server/contract/finding.ts';
import { apiPath, eventKey } from '../../../server/contract/paths.ts';
import { readFleet } from '../../../server/contract/read-fleet.ts';
import { ENGLISH } from '../../../server/views/english.ts';
import { eventMargins } from '../../../server/views/event-margins.ts';
import { evidenceRows } from '../../../server/views/evidence-rows.ts';
import { figureRows } from '../../../server/views/figure-rows.ts';
import { figureText, quantityText } from '../../../server/views/figures.ts';
import { sayEvent } from '../../../server/views/say-event.ts';
import { sayFinding } from '../../../server/views/say-finding.ts';
import { sayRow } from '../../../server/views/say-fleet.ts';
import { saySite } from '../../../server/views/say-site.ts';
import { dropFolder, parsed, run } from '../../ingest/commands/_stored.ts';
import { openBoard, openHouse } from '../_board.ts';
import { DEMO, DEMO_END_MS, storeDemo } from '../_demo.ts';

let folder = '';
let house: ReturnType<typeof openHouse>;
let board: ReturnType<typeof openBoard>;
let sites: string[] = [];
beforeAll(() => {
  folder = storeDemo();
  house = openHouse(folder, () => DEMO_END_MS);
  board = openBoard(house);
  sites = house.readings.recordSites();
});
afterAll(() => {
  board.close();
  house.close();
  dropFolder(folder);
});

type Row = Readonly<Record<string, unknown>>;
const told = async (command: Command, ...args: string[]): Promise<readonly Row[]> =>
  parsed(await run([command], [command.name, '--data', folder, ...args]));
const ask = async <A>(path: string): Promise<A> => (await board.ask(path)).json() as Promise<A>;
const saying = { words: ENGLISH, zone: 'Europe/Vienna', now: DEMO_END_MS };
const ms = (time: unknown): number => (typeof time === 'number' ? time : Date.parse(String(time)));
const iso = (t: number): string => new Date(t).toISOString();

/** A line of `kilter findings --json` as the views take it. */
const findingOf = (row: Row): SayableFinding =>
  ({
    ...row,
    start: ms(row.start),
    detectedAt: ms(row.detected_at),
    end: row.end === null ? null : ms(row.end),
  }) as unknown as SayableFinding;

/** A line of `kilter events --json` as the views take it. */
const eventOf = (row: Row): SayableEvent =>
  ({
    site: row.site,
    start: ms(row.start),
    end: row.end === null ? null : ms(row.end),
    startUncertaintyS: row.start_uncertainty_s,
    held: row.held,
    outputLostS: row.output_lost_s,
    occasion: row.occasion,
    energyWh: row.energy_wh,
    peakW: row.peak_w,
    socStartPct: row.soc_start_pct,
    socEndPct: row.soc_end_pct,
    frequencyMinHz: row.frequency_min_hz,
    frequencyMaxHz: row.frequency_max_hz,
    voltageMinV: row.voltage_min_v,
    voltageMaxV: row.voltage_max_v,
    units: Object.fromEntries(
      Object.entries(row.units as Record<string, { energy_wh: number | null }>).map(([id, { energy_wh }]) => [
        id,
        { energyWh: energy_wh },
      ]),
    ),
  }) as SayableEvent;

const keyOf = ({ site, kind, subject, start }: SayableFinding): string => `${site} ${kind} ${subject} ${start}`;

describe('what the pages say is what the command line says', () => {
  test('findings: the same ones, each with the same sentence and the same evidence', async () => {
    const lines = (await told(findingsCommand, '--json')).map(findingOf);
    expect(lines.length).toBeGreaterThan(1);
    const { findings } = await ask<Answer<'findings'>>(apiPath('findings', {}, { state: 'all', limit: 500 }));
    const pages = new Map(findings.map((finding) => [keyOf(finding), finding]));
    expect([...pages.keys()].sort()).toEqual(lines.map(keyOf).sort());
    for (const line of lines) {
      const page = pages.get(keyOf(line)) as ApiFinding;
      expect(sayFinding(page, saying)).toBe(sayFinding(line, saying));
      expect(evidenceRows(page, saying)).toEqual(evidenceRows(line, saying));
      const { finding } = await ask<Answer<'finding'>>(apiPath('finding', { id: page.id }));
      expect(sayFinding(finding, saying)).toBe(sayFinding(line, saying));
    }
  });

  test('the first line of a site and its row in the fleet are its worst open finding, as printed', async () => {
    const lines = (await told(findingsCommand, '--json')).map(findingOf);
    const fleet = readFleet(await ask<Answer<'fleet'>>(apiPath('fleet', {})));
    for (const row of fleet.rows) {
      const sentences = lines
        .filter(({ site, end, severity }) => site === row.site && end === null && severity !== 'info')
        .map((line) => sayFinding(line, saying));
      const page = await ask<Answer<'site'>>(apiPath('site', { site: row.site }));
      if (sentences.length === 0) continue;
      expect(sentences).toContain(sayRow(row, saying));
      expect(saySite(page, saying)).toBe(sayRow(row, saying));
    }
  });

  test('events: every figure of the list, the page, its sentence and its margins', async () => {
    const lines = (await told(eventsCommand, '--json')).map(eventOf);
    expect(lines.length).toBeGreaterThan(3);
    const { events } = await ask<Answer<'events'>>(apiPath('events', {}, { limit: 500 }));
    const listed = new Map(events.map((event) => [`${event.site} ${event.start}`, event]));
    expect(listed.size).toBe(lines.length);
    for (const line of lines) {
      const { mark, siteName, zone, ...page } = listed.get(`${line.site} ${line.start}`)!;
      expect(page).toEqual(line);
      const own = await ask<Answer<'event'>>(apiPath('event', { site: line.site, start: eventKey(line.start) }));
      expect(sayEvent(own.event, [], saying)).toBe(sayEvent(line, [], saying));
      const margins = new Map(eventMargins(own, saying).map(({ id, figure }) => [id, figure]));
      if (line.frequencyMinHz !== null)
        expect(margins.get('frequencyLow')).toBe(quantityText('output_frequency_hz', line.frequencyMinHz));
      if (line.voltageMaxV !== null)
        expect(margins.get('voltageHigh')).toBe(quantityText('output_voltage_v', line.voltageMaxV));
    }
  });

  test('then and now of a site: a drift that lasts has the figures of its finding', async () => {
    const drifts = (await told(findingsCommand, '--kind', 'share_drift', '--json'))
      .map(findingOf)
      .filter(({ end, evidence }) => end === null && evidence.mode === 'grid');
    expect(drifts.length).toBeGreaterThan(0);
    for (const { site, subject, value, baseline } of drifts) {
      const { figures } = await ask<Answer<'site'>>(apiPath('site', { site }));
      const row = figureRows(figures, saying).find(
        ({ figure }) => figure.measure === 'share' && figure.subject === subject && figure.mode === 'grid',
      )!;
      expect([row.now, row.proven]).toEqual([figureText(value! * 100, 1), figureText(baseline! * 100, 1)]);
    }
  });

  test('readings: every one of a window, and least, mean and greatest of each hour', async () => {
    const site = sites[0]!;
    const from = DEMO.fromMs + 3 * DAY_MS;
    const of = 'unit/u1/output_power_w';
    const args = ['--site', site, '--unit', 'u1', '--quantity', 'output_power_w', '--from', iso(from)];
    const [near] = (
      await ask<Answer<'series'>>(apiPath('series', { site }, { of, from, to: from + 6 * HOUR_MS, points: 800 }))
    ).series;
    const lines = await told(readingsCommand, ...args, '--to', iso(from + 6 * HOUR_MS), '--json');
    expect(lines.length).toBeGreaterThan(60);
    expect(near!.t.map((t, i) => [iso(t), near!.mean[i]])).toEqual(lines.map((row) => [row.t, row.output_power_w]));

    const to = from + 15 * DAY_MS;
    const { everyMs, series } = await ask<Answer<'series'>>(apiPath('series', { site }, { of, from, to, points: 400 }));
    expect(everyMs).toBe(HOUR_MS);
    const [far] = series;
    const hours = await told(readingsCommand, ...args, '--to', iso(to), '--every', '1h', '--json');
    type Cell = Readonly<Record<'min' | 'mean' | 'max', number>>;
    const cells = hours.map((row) => ({ t: row.t, ...(row.output_power_w as Cell) }));
    expect(far!.t.filter((_, i) => far!.mean[i] !== null).map(iso)).toEqual(cells.map(({ t }) => t));
    const least = far!.min!.filter((value) => value !== null);
    const greatest = far!.max!.filter((value) => value !== null);
    const means = far!.mean.filter((value): value is number => value !== null);
    cells.forEach((cell, i) => {
      expect([least[i], greatest[i]]).toEqual([cell.min, cell.max]);
      expect(Math.abs(means[i]! - cell.mean)).toBeLessThanOrEqual(0.05 + 1e-9);
    });
  });

  test('settings in force and what is stored of each source', async () => {
    for (const site of sites) {
      const page = await ask<Answer<'site'>>(apiPath('site', { site }));
      const rows = await told(sqlCommand, '--json', `select unit, key, value, t from settings where site = '${site}'`);
      const newest = new Map<string, Row>();
      for (const row of rows) {
        const key = `${row.unit} ${row.key}`;
        const before = newest.get(key);
        if (before === undefined || ms(before.t) <= ms(row.t)) newest.set(key, row);
      }
      expect(page.settings.map(({ unit, key }) => `${unit} ${key}`).sort()).toEqual([...newest.keys()].sort());
      const { sources } = await ask<Answer<'trust'>>(apiPath('trust', { site }));
      const counts = await told(
        sqlCommand,
        '--json',
        `select unit as id, count(*) as n from unit_readings where site = '${site}' group by unit union all
         select pack as id, count(*) as n from pack_readings where site = '${site}' group by pack`,
      );
      for (const { id, n } of counts) expect(sources.find((one) => one.id === id)?.readings).toBe(n);
    }
  });
});
