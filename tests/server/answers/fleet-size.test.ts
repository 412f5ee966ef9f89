/** The fleet of 500 sites and 30 days: how large on the wire, how long on the server. */
import { gzipSync } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { checkSites } from '../../../ingest/site/check-sites.ts';
import type { SiteAnswer } from '../../../ingest/store/derived-store.ts';
import type { BackupEvent, Finding } from '../../../ingest/vocabulary/finding.ts';
import { epochMs } from '../../../ingest/vocabulary/time.ts';
import { createFleetBoard } from '../../../server/answers/fleet-answer.ts';
import { createFacts, type House } from '../../../server/answers/house.ts';
import { fleetAnswerSchema } from '../../../server/contract/fleet.ts';
import { readFleet } from '../../../server/contract/read-fleet.ts';
import { MILLPOND } from '../../ingest/site/millpond.ts';

const SITES = 500;
const NOW = Date.UTC(2026, 3, 14, 6, 40);
const DAY = 86_400_000;
const record = checkSites([{ file: 'sites.yaml', text: MILLPOND }]).documents[0]!;

/** A number that looks drawn, the same each time: multiplication with a constant, fraction kept. */
const drawn = (n: number): number => (n * 0.618_033_988_749) % 1;
const nameOf = (n: number): string =>
  ['Mill', 'Ford', 'Oak', 'Weir', 'Chapel', 'Quarry', 'Hazel', 'Linnet'][n % 8]! +
  ['ton', 'ham', 'ley', 'by', 'stead'][(n >> 3) % 5]! +
  (n % 97);

function answerOf(site: string, n: number): SiteAnswer {
  const events = Array.from({ length: 2 + (n % 4) }, (_, i): BackupEvent => {
    const start = epochMs(Math.round(NOW - drawn(n * 31 + i * 7) * 30 * DAY));
    return {
      site,
      start,
      end: epochMs(start + Math.round(40_000 + drawn(n + i) * 9_000_000)),
      startUncertaintyS: 10,
      held: (n + i) % 17 !== 0,
      outputLostS: 0,
      occasion: 'unknown',
      energyWh: 1000,
      peakW: 2000,
      socStartPct: 90,
      socEndPct: 80,
      frequencyMinHz: 49.9,
      frequencyMaxHz: 50.1,
      voltageMinV: 229,
      voltageMaxV: 231,
      units: {},
    };
  }).sort((a, b) => a.start - b.start);
  const finding: Finding = {
    site,
    kind: 'share_drift',
    subject: 'u2',
    start: epochMs(Math.round(NOW - drawn(n) * 20 * DAY)),
    detectedAt: epochMs(Math.round(NOW - drawn(n) * 9 * DAY)),
    end: null,
    severity: 'soon',
    measure: 'share of output power',
    value: Math.round(4000 + drawn(n) * 500) / 10_000,
    baseline: 0.4912,
    limit: 0.03,
    causes: [{ cause: 'feeder_resistance', weight: 0.9 }],
    evidence: { resistance_added_mohm: 42.1, unused: 'not sent' },
  };
  const now = Math.round((0.5 + drawn(n) / 50) * 10_000) / 10_000;
  return {
    findings: n % 3 === 0 ? [finding] : [],
    events,
    cannotTell: [],
    figures: [
      {
        site,
        measure: 'share',
        subject: 'u2',
        mode: 'grid',
        then: 0.5,
        now,
        limit: 0.03,
        nowAt: epochMs(NOW),
        because: null,
      },
    ],
    shareCharts: [],
    autonomy: [],
  };
}

function bigHouse(): House {
  const sites = Array.from({ length: SITES }, (_, n) => `site-${n}`);
  const place = (site: string): number => Number(site.slice(5));
  const answers = new Map(sites.map((site) => [site, JSON.stringify(answerOf(site, place(site)))]));
  let change = 1;
  const stub = {
    readings: {
      change: () => change,
      siteHistory: (site: string) => ({
        seq: 1,
        history: {
          site,
          documents: [{ ...record, site, name: nameOf(place(site)), group: `valley ${place(site) % 9}` }],
        },
      }),
      sources: () => [],
      newestReading: () => null,
    },
    derived: { answer: (site: string) => JSON.parse(answers.get(site)!) },
    reads: {
      answered: () => sites.map((site) => ({ site, stamp: site === 'site-3' ? String(change) : '1', asOf: NOW })),
      recordSeqs: () => new Map(sites.map((site) => [site, 1])),
      changedSites: () => ['site-3'],
    },
    people: { change: () => 0, marks: () => [] },
    nowMs: () => NOW,
    raise: () => {
      change++;
    },
  };
  return stub as unknown as House;
}

describe('the fleet of 500 sites', () => {
  test('fits 30 kB, is the same when read back, and costs under 50 ms once it is warm', () => {
    const house = bigHouse();
    const facts = createFacts(house);
    const board = createFleetBoard(house, facts);
    const answer = board.answer();
    const text = JSON.stringify(answer);
    expect(gzipSync(text).length).toBeLessThan(30 * 1024);
    const rows = readFleet(fleetAnswerSchema.parse(JSON.parse(text))).rows;
    expect(rows).toHaveLength(SITES);
    const third = rows.find(({ site }) => site === 'site-3')!;
    const source = answerOf('site-3', 3);
    expect(third.events.map(({ start }) => start)).toEqual(
      source.events.map(({ start }) => Math.floor(start / 1000) * 1000),
    );
    expect(third.worst).toMatchObject({ value: source.findings[0]!.value, evidence: { resistance_added_mohm: 42.1 } });
    expect(third.worst!.evidence).not.toHaveProperty('unused');
    expect(third.deviation).toMatchObject({ then: 0.5, now: source.figures[0]!.now, limit: 0.03 });
    (house as unknown as { raise(): void }).raise();
    // The processor's time, because tests share a machine.
    const before = process.cpuUsage();
    JSON.stringify(board.answer());
    const { user, system } = process.cpuUsage(before);
    expect((user + system) / 1000).toBeLessThan(50);
  });
});
